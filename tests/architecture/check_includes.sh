#!/usr/bin/env bash
# Every #include "jigtrue/<layer>/..." goes to the file's own layer or to one below it. The arrows are those of the
# jigtrue_layer(... DEPENDS ...) lines of CMakeLists.txt, where a layer may name only layers that stand above its own line: so
# no ring can form. General-purpose libraries follow the links too, and only cli prints or exits. A source reads the header of
# its own name first, so that compiling it proves that the header needs no other. Run: check_includes.sh PROJECT
set -euo pipefail
cd "${1:?the project folder}"

declare -A below    # layer -> " layer layer ...": itself and all that it may include
declare -A linked   # layer -> general-purpose libraries that it or a layer below links
layers=()
fail=0
complain() { echo "check_includes: $*" >&2; fail=1; }

# Each jigtrue_layer(...) call on one line, without the function's own definition.
calls=$(tr '\n' ' ' <CMakeLists.txt | grep -oE 'jigtrue_layer\([a-z]+ [^)]*\)' | sed -E 's/^jigtrue_layer\(//; s/\)$//')
while read -r name rest; do
  below[$name]=" $name "
  linked[$name]=" "
  for word in $rest; do
    case $word in
      jigtrue_opencv) linked[$name]+="opencv " ;;
      jigtrue_*)
        lower=${word#jigtrue_}
        if [ -z "${below[$lower]:-}" ]; then
          complain "CMakeLists.txt: $name depends on $lower, which is not declared before it"
        else
          below[$name]+="${below[$lower]} "
          linked[$name]+="${linked[$lower]} "
        fi ;;
      opencv_*) linked[$name]+="opencv " ;;
      nlohmann_json::*) linked[$name]+="nlohmann " ;;
      CLI11::*) linked[$name]+="CLI " ;;
    esac
  done
  layers+=("$name")
done <<<"$calls"
if [ ${#layers[@]} -lt 2 ]; then
  complain "CMakeLists.txt: no jigtrue_layer(...) lines found"
  exit 1
fi
# cli is the top: it sees every layer
below[cli]=" cli ${layers[*]} "
linked[cli]=" opencv nlohmann CLI "

checked=0
while IFS=: read -r file line text; do
  folder=${file#include/jigtrue/}
  folder=${folder#src/}
  layer=${folder%%/*}
  if [ -z "${below[$layer]:-}" ]; then
    complain "$file: the folder $layer is no layer"
    continue
  fi
  [[ $text =~ [\"\<]([^\">]+) ]] && target=${BASH_REMATCH[1]}
  checked=$((checked + 1))
  case $target in
    jigtrue/*/*)
      other=${target#jigtrue/}
      other=${other%%/*}
      [[ ${below[$layer]} == *" $other "* ]] || complain "$file:$line: $layer must not include $other ($target)" ;;
    opencv2/*) [[ ${linked[$layer]} == *" opencv "* ]] || complain "$file:$line: $layer must not include OpenCV" ;;
    nlohmann/*) [[ ${linked[$layer]} == *nlohmann* ]] || complain "$file:$line: $layer must not include nlohmann_json" ;;
    CLI/*) [[ ${linked[$layer]} == *" CLI "* ]] || complain "$file:$line: $layer must not include CLI11" ;;
    cli/*) [ "$layer" = cli ] || complain "$file:$line: $layer must not include cli ($target)" ;;
    */*) # a private header of src/<layer>/
      other=${target%%/*}
      if [ -n "${below[$other]:-}" ] && [ "$other" != "$layer" ]; then
        complain "$file:$line: $target is private to $other"
      fi ;;
  esac
done < <(grep -rnE '^[[:space:]]*#[[:space:]]*include' include/jigtrue src --include='*.hpp' --include='*.cpp')

while IFS= read -r header; do
  grep -q '^#pragma once$' "$header" || complain "$header: #pragma once is missing"
  source=src/${header#include/jigtrue/}
  source=${source%.hpp}.cpp
  [ -f "$source" ] || continue
  first=$(grep -m 1 -E '^[[:space:]]*#[[:space:]]*include' "$source" || true)
  [ "$first" = "#include \"${header#include/}\"" ] || complain "$source: its first include must be its own header, ${header#include/}"
done < <(find include/jigtrue -name '*.hpp' | LC_ALL=C sort)

while IFS= read -r hit; do
  complain "$hit: only cli prints or exits"
done < <(grep -rnE 'std::(cout|cerr|clog|exit|abort|quick_exit)\b|\b(printf|puts|exit|abort)\(' include/jigtrue src \
           --include='*.hpp' --include='*.cpp' | grep -vE '^src/cli/|^[^:]+:[0-9]+:[[:space:]]*//|std::f?printf_|snprintf' || true)

if [ $checked -eq 0 ]; then complain "no include was found to check"; fi
[ $fail -eq 0 ] && echo "check_includes: $checked includes in ${#layers[@]} layers and cli, all downward"
exit $fail
