#!/usr/bin/env bash
# In the layers that measure, a named number says why it is what it is: by a comment on its line, or above it or the run of
# constants that it stands in. A number that a page or a file's bounds need only has to have a name. Run: check_constants.sh PROJECT
set -euo pipefail
cd "${1:?the project folder}"

drawn='/(layout|target|report|workbench|bench|cli)/'
mapfile -t sources < <(find src include -name '*.cpp' -o -name '*.hpp' | grep -vE "$drawn" | LC_ALL=C sort)
awk '
  FNR == 1 { said = 0; open = 0 }
  open { open = !/;/; if (/\/\//) silent = 0; if (!open && silent) bare = bare place; next }
  /^ *(static |inline )*constexpr (double|float|int|unsigned|long|std::size_t|std::ptrdiff_t|std::u?int[0-9]+_t|Eigen::Index) k[A-Z]/ {
    count++
    if (/\/\//) { said = 1; next } # a run of constants may share one
    if (said) next
    place = sprintf("%s:%d: %s\n", FILENAME, FNR, $0)
    silent = 1
    open = !/;/
    if (!open) bare = bare place
    next
  }
  { said = /^ *\/\// }
  END {
    if (bare != "") { printf "check_constants: say why, on the line or above:\n%s", bare; exit 1 }
    if (!count) { print "check_constants: no number was found to check"; exit 1 }
    print "check_constants: " count " named numbers, each with its reason"
  }' "${sources[@]}"
