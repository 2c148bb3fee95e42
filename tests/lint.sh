#!/usr/bin/env bash
# What the build does not see: formatting, includes that go against the layers, sources and headers that lean on others, clang-tidy.
# A tool that is not installed is named and left out. JIGTRUE_TIDY_SECONDS (default 300) bounds clang-tidy; files that it did not
# reach are counted, those changed last come first. "all": every file, in the batches of the build, whose headers are then
# read once a batch: a fifth of the time. JIGTRUE_ALONE_SECONDS (default 100, or all) bounds the sources compiled by themselves.
# Needs the build of tests/run.sh.
set -uo pipefail

top=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$top" || exit 1
build=build/test
seconds=${JIGTRUE_TIDY_SECONDS:-300}
failed=0
verdict() { # name, exit status
  if [ "$2" -eq 0 ]; then echo "lint: $1: clean"; else echo "lint: $1: FAILED" >&2; failed=1; fi
}

# Prints a list of sources again, those first that changed last, a changed header for the first source that reads it. By the
# repository's memory; a copy without one goes by the files' times.
changed_last_first() { # file that lists them
  {
    {
      git diff --name-only HEAD
      git ls-files --others --exclude-standard
      git log --format= --name-only
    } 2>/dev/null | awk '!seen[$0]++' | while IFS= read -r path; do
      case $path in
        *.cpp) echo "$path" ;;
        *.hpp) xargs grep -lF "\"$(sed -E 's#^(include|src|tests)/##' <<<"$path")\"" <"$1" | head -n 1 ;;
      esac
    done | grep -xFf "$1"
    xargs ls -t <"$1"
  } | awk '!seen[$0]++'
}

mapfile -t sources < <(find include src tests -name '*.hpp' -o -name '*.cpp' | LC_ALL=C sort)
if [ ${#sources[@]} -eq 0 ]; then
  echo "lint: no sources found" >&2
  exit 1
fi

bash tests/architecture/check_includes.sh "$top"
verdict "includes follow the layers" $?

if command -v clang-format >/dev/null; then
  clang-format --dry-run -Werror "${sources[@]}"
  verdict "clang-format, ${#sources[@]} files" $?
else
  echo "lint: clang-format is not installed: formatting not checked"
fi

if command -v shellcheck >/dev/null; then
  find fixtures tests .ci -name '*.sh' -print0 | xargs -0 shellcheck -S warning .ci/run
  verdict "shellcheck" $?
fi

if [ ! -f $build/compile_commands.json ]; then
  echo "lint: $build/compile_commands.json is missing: run tests/run.sh first" >&2
  exit 1
fi
cmake --build $build --target jigtrue_headers_alone --parallel "$(nproc)"
verdict "each public header compiles alone" $?

log=$(mktemp -d)
trap 'rm -rf "$log"' EXIT

# Runs a command on each of the units until the time is over, on all cores; complains of those on which it fails.
on_units() { # name, seconds, function...
  local name=$1 deadline=$((SECONDS + $2)) number=0 reached=0 bad=0 unit status
  rm -f "$log"/*.status
  one() { # number, file, function...
    if [ "$SECONDS" -ge "$deadline" ]; then return 0; fi
    "${@:3}" "$2" >"$log/$1.txt" 2>&1
    echo $? >"$log/$1.status"
  }
  for unit in "${units[@]}"; do
    while [ "$(jobs -rp | wc -l)" -ge "$(nproc)" ]; do wait -n; done
    one $number "$unit" "${@:3}" &
    number=$((number + 1))
  done
  wait
  for status in "$log"/*.status; do
    [ -f "$status" ] || continue
    reached=$((reached + 1))
    if [ "$(cat "$status")" -ne 0 ]; then
      bad=$((bad + 1))
      grep -vE '^[0-9]+ warnings? generated|^Suppressed |^Use -' "${status%.status}.txt"
    fi
  done
  [ $bad -eq 0 ] && [ $reached -gt 0 ]
  verdict "$name, $reached of ${#units[@]} files or batches within $2 s, $bad with findings" $?
}

# One command for each source, so that it must name all that it includes and can mean by a name only what it has itself.
cmake -S . -B build/lint -DJIGTRUE_TESTS=ON -DCMAKE_UNITY_BUILD=OFF >/dev/null
verdict "configured for single sources" $?
sed -nE "s#^ *\"file\": \"$top/((src|tests)/.*)\",?\$#\1#p" build/lint/compile_commands.json | LC_ALL=C sort -u >"$log/units"
mapfile -t units < <(changed_last_first "$log/units")
compile_alone() { # file
  local command
  command=$(python3 -c 'import json, sys
print(next(c["command"] for c in json.load(open("build/lint/compile_commands.json")) if c["file"].endswith("/" + sys.argv[1])))' "$1")
  (cd build/lint && eval "${command/ -o / -fsyntax-only -o }")
}
alone=${JIGTRUE_ALONE_SECONDS:-100}
if [ "$alone" = all ]; then alone=1000000; fi
on_units "each source compiles by itself" "$alone" compile_alone

if [ "$seconds" = 0 ]; then
  echo "lint: clang-tidy not asked for (JIGTRUE_TIDY_SECONDS=0)"
elif command -v clang-tidy >/dev/null; then
  tidy=(clang-tidy -p build/lint --quiet "--config-file=$top/.clang-tidy" --extra-arg=-Wno-unknown-warning-option)
  if [ "$seconds" = all ]; then
    seconds=1000000
    cmake -S . -B build/lint -DJIGTRUE_TESTS=ON -DCMAKE_UNITY_BUILD=ON >/dev/null
    verdict "configured for batches" $?
    tidy+=(--checks=-bugprone-suspicious-include)
    sed -nE 's#^ *"file": "(.*)",?$#\1#p' build/lint/compile_commands.json | grep -v /precompiled | LC_ALL=C sort -u >"$log/units"
    mapfile -t units <"$log/units"
  fi
  on_units clang-tidy "$seconds" "${tidy[@]}"
else
  echo "lint: clang-tidy is not installed: not run"
fi

exit $failed
