#!/usr/bin/env bash
# What the compiler does not see: formatting, includes that go against the layers, headers that lean on others, clang-tidy.
# A tool that is not installed is named and left out. JIGTRUE_TIDY_SECONDS (default 300) bounds clang-tidy; files that it did not
# reach are counted, those changed last come first. "all": every file, in the batches of the build, whose headers are then
# read once a batch: a fifth of the time. Needs the build of tests/run.sh.
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

if [ "$seconds" = 0 ]; then
  echo "lint: clang-tidy not asked for (JIGTRUE_TIDY_SECONDS=0)"
elif command -v clang-tidy >/dev/null; then
  log=$(mktemp -d)
  trap 'rm -rf "$log"' EXIT
  tidy=(clang-tidy -p build/lint --quiet "--config-file=$top/.clang-tidy" --extra-arg=-Wno-unknown-warning-option)
  if [ "$seconds" = all ]; then
    seconds=1000000
    cmake -S . -B build/lint -DJIGTRUE_TESTS=ON -DCMAKE_UNITY_BUILD=ON >/dev/null
    verdict "configured for clang-tidy" $?
    tidy+=(--checks=-bugprone-suspicious-include)
    sed -nE 's#^ *"file": "(.*)",?$#\1#p' build/lint/compile_commands.json | grep -v /precompiled | LC_ALL=C sort -u >"$log/units"
    mapfile -t units <"$log/units"
  else
    # one command for each source, without batches and precompiled headers: a source must name all that it includes
    cmake -S . -B build/lint -DJIGTRUE_TESTS=ON -DCMAKE_UNITY_BUILD=OFF >/dev/null
    verdict "configured for clang-tidy" $?
    sed -nE "s#^ *\"file\": \"$top/((src|tests)/.*)\",?\$#\1#p" build/lint/compile_commands.json | LC_ALL=C sort -u >"$log/units"
    mapfile -t units < <(changed_last_first "$log/units")
  fi
  deadline=$((SECONDS + seconds))
  tidy_one() { # number, file
    if [ "$SECONDS" -ge "$deadline" ]; then return 0; fi
    "${tidy[@]}" "$2" >"$log/$1.txt" 2>"$log/$1.err"
    echo $? >"$log/$1.status"
  }
  number=0
  for unit in "${units[@]}"; do
    while [ "$(jobs -rp | wc -l)" -ge "$(nproc)" ]; do wait -n; done
    tidy_one $number "$unit" &
    number=$((number + 1))
  done
  wait
  reached=0 bad=0
  for status in "$log"/*.status; do
    [ -f "$status" ] || continue
    reached=$((reached + 1))
    if [ "$(cat "$status")" -ne 0 ]; then
      bad=$((bad + 1))
      cat "${status%.status}.txt"
      grep -E 'error:' "${status%.status}.err"
    fi
  done
  [ $bad -eq 0 ] && [ $reached -gt 0 ]
  verdict "clang-tidy, $reached of ${#units[@]} files or batches within $seconds s, $bad with findings" $?
else
  echo "lint: clang-tidy is not installed: not run"
fi

exit $failed
