#!/usr/bin/env bash
# Installs a build into a folder of its own, calibrates with the installed program, builds the example program against the
# installed package, and asks that it finds what the installed program finds. Run: run.sh BUILD EXAMPLE COMPILER
set -euo pipefail
build=${1:?the build folder} example=${2:?the example folder} compiler=${3:?the compiler}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

cmake --install "$build" --prefix "$work/usr" >"$work/log"
cmake -S "$example" -B "$work/build" -DCMAKE_PREFIX_PATH="$work/usr" -DCMAKE_CXX_COMPILER="$compiler" \
  -DCMAKE_BUILD_TYPE=Release >>"$work/log"
cmake --build "$work/build" >>"$work/log" || { cat "$work/log" >&2; exit 1; }

jigtrue=$work/usr/bin/jigtrue
demo=$work/usr/share/jigtrue/fixtures/demo
"$jigtrue" lens "$demo"/cameras/attic/lens/*.jpg --board 10x7x20 -o "$work/lens.json" >>"$work/log"
"$jigtrue" pose "$demo/cameras/attic/pose.jpg" --lens "$work/lens.json" --board 10x7x20 --board-at 78,302,-88 --board-height 3 \
  -o "$work/camera.json" >>"$work/log"
expect_person() { # command...: one slot of the demo is empty
  local status=0
  "$@" || status=$?
  [ $status -eq 1 ] || { echo "installed: exit status $status instead of 1: $*" >&2; exit 1; }
}
photo=$demo/pens/photo.jpg fixture=$demo/pens/fixture.json
expect_person "$jigtrue" check "$photo" --camera "$work/camera.json" --fixture "$fixture" -o "$work/check" >>"$work/log"
expect_person "$work/build/offsets" "$photo" "$work/camera.json" "$fixture" >"$work/offsets"

# the table's columns slot, state, offset x and y, and what the example prints
diff <(awk -F, 'NR > 1 { print $1, $2 ($3 == "" ? "" : " " $3 " " $4) }' "$work/check/offsets.csv") "$work/offsets"
