#!/usr/bin/env bash
# The checks must themselves be able to fail: small made-up projects, one fault each, and a clean one.
# Run: check_includes_test.sh FOLDER_OF_THE_CHECKS
set -euo pipefail
folder=${1:?the folder of the checks}
check=$folder/check_includes.sh
tree=$(mktemp -d)
trap 'rm -rf "$tree"' EXIT

start() { # a clean project of three layers: low <- left, right
  rm -rf "${tree:?}"/*
  mkdir -p "$tree"/include/jigtrue/{low,left,right} "$tree"/src/{low,left,right,cli}
  cat >"$tree/CMakeLists.txt" <<'CMAKE'
function(jigtrue_layer name)
endfunction()
jigtrue_layer(low DEPENDS Eigen3::Eigen)
jigtrue_layer(left DEPENDS jigtrue_low
              PRIVATE nlohmann_json::nlohmann_json)
jigtrue_layer(right DEPENDS jigtrue_low jigtrue_opencv)
CMAKE
  printf '#pragma once\n#include <vector>\n' >"$tree/include/jigtrue/low/a.hpp"
  printf '#include "jigtrue/low/a.hpp"\n#include <nlohmann/json.hpp>\n' >"$tree/src/left/b.cpp"
  printf '#include "jigtrue/low/a.hpp"\n#include <opencv2/core.hpp>\n' >"$tree/src/right/c.cpp"
  printf '#include "jigtrue/low/a.hpp"\n#include <CLI/CLI.hpp>\nvoid f() { std::cout << 1; }\n' >"$tree/src/cli/main.cpp"
}
failures=0
expect() { # passes|fails, name
  local got=passes
  bash "$check" "$tree" >"$tree/log" 2>&1 || got=fails
  if [ $got != "$1" ]; then
    echo "$2: $got, should be: $1" >&2
    cat "$tree/log" >&2
    failures=$((failures + 1))
  fi
}

start; expect passes "clean project"
start; echo '#include "jigtrue/left/b.hpp"' >>"$tree/src/low/a.cpp"; expect fails "upward include"
start; echo '#include "jigtrue/left/b.hpp"' >>"$tree/src/right/c.cpp"; expect fails "sideways include"
start; echo '  #  include <opencv2/core.hpp>' >>"$tree/include/jigtrue/low/a.hpp"; expect fails "OpenCV in a layer that does not link it"
start; echo '#include "left/private.hpp"' >>"$tree/src/right/c.cpp"; expect fails "another layer's private header"
start; echo 'void g() { std::exit(1); }' >>"$tree/src/left/b.cpp"; expect fails "a library that exits"
start; echo 'void g() { std::cerr << 1; }' >>"$tree/src/left/b.cpp"; expect fails "a library that prints"
start; sed -i 's/(low DEPENDS Eigen3::Eigen)/(low DEPENDS jigtrue_right)/' "$tree/CMakeLists.txt"; expect fails "a ring of layers"
start; mkdir "$tree/src/odd"; echo '#include <vector>' >"$tree/src/odd/x.cpp"; expect fails "a folder that is no layer"
start; printf '#include <vector>\n#include "jigtrue/low/a.hpp"\n' >"$tree/src/low/a.cpp"; expect fails "a header that leans on others"
start; sed -i 1d "$tree/include/jigtrue/low/a.hpp"; expect fails "a header without its guard"
start; rm -r "$tree"/src/* "$tree"/include/jigtrue/low/a.hpp; expect fails "nothing to check"
check=$folder/check_names.sh
names() { printf 'namespace low {\nnamespace {\n%s\n}  // namespace\n}  // namespace low\n' "$2" >"$tree/src/$1"; }
start; names low/a.cpp 'int twice(int n) { return 2 * n; }'; names right/c.cpp 'int twice(int n) { return n + n; }'
expect passes "one name in two folders"
names low/b.cpp 'double twice(double n) { return 2 * n; }'; expect fails "an overload in another source"
names low/b.cpp 'constexpr int twice = 2;'; expect fails "a constant of another source's name"
start; expect fails "no name to check"
check=$folder/check_constants.sh
start; names low/a.cpp 'constexpr double kNear_mm = 2.0;  // as blanks lie'; expect passes "a number with its reason"
names low/a.cpp '// As blanks lie.
constexpr double kNear_mm =
    2.0;'; expect passes "a number with its reason above it"
names low/a.cpp 'constexpr double kNear_mm = 2.0;'; expect fails "a number without a reason"
start; expect fails "no number to check"
[ $failures -eq 0 ]
