#!/usr/bin/env bash
# Fuzzes readers with libFuzzer under the address and undefined-behaviour sanitizers (clang with its compiler-rt).
#   tests/fuzz/run.sh SECONDS [READER...]     all readers if none is named; what is found lands in tests/fuzz/found/READER
# JIGTRUE_FUZZ_BUILD names the build folder (build/fuzz). Prints executions per reader; exit status 1 if anything was found.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."
seconds=${1:?seconds for each reader}
shift
build=${JIGTRUE_FUZZ_BUILD:-build/fuzz}

if ! command -v clang++ >/dev/null; then
  echo "fuzz: clang++ is not installed" >&2
  exit 1
fi
generator=()
if [ ! -f "$build/CMakeCache.txt" ] && command -v ninja >/dev/null; then generator=(-G Ninja); fi
cmake -S . -B "$build" "${generator[@]}" -DCMAKE_CXX_COMPILER=clang++ -DJIGTRUE_FUZZ=ON -DJIGTRUE_WERROR=OFF \
  -DCMAKE_BUILD_TYPE=Debug "-DCMAKE_CXX_FLAGS_DEBUG=-O2 -g1 -D_GLIBCXX_ASSERTIONS" >/dev/null
cmake --build "$build" --target jigtrue_fuzz --parallel "${JIGTRUE_FUZZ_JOBS:-$(nproc)}"

readers=("$@")
if [ ${#readers[@]} -eq 0 ]; then mapfile -t readers < <(ls tests/fuzz/seeds); fi
found=0
for reader in "${readers[@]}"; do
  corpus=$build/corpus/$reader
  finds=tests/fuzz/found/$reader
  mkdir -p "$corpus" "$finds"
  case $reader in
    fixture | lens | camera | marks | machine | report | job | records) words=(-dict=tests/fuzz/json.dict) ;;
    artwork | layout) words=(-dict=tests/fuzz/svg.dict) ;;
    request) words=(-dict=tests/fuzz/request.dict) ;;
    *) words=() ;;
  esac
  before=$(find "$finds" -type f | wc -l)
  log=$build/$reader.log
  status=0
  JIGTRUE_FUZZ_READER=$reader ASAN_OPTIONS=allocator_may_return_null=1 \
    UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1 \
    "$build/tests/fuzz/jigtrue_fuzz" "$corpus" "tests/fuzz/seeds/$reader" "${words[@]}" -max_total_time="$seconds" \
    -max_len=20000 -timeout=10 -rss_limit_mb=3000 -print_final_stats=1 -artifact_prefix="$finds/" >"$log" 2>&1 || status=$?
  runs=$(sed -nE 's/^stat::number_of_executed_units: *//p' "$log" | tail -n 1)
  cover=$(grep -oE 'cov: [0-9]+' "$log" | tail -n 1 || true)
  after=$(find "$finds" -type f | wc -l)
  echo "fuzz: $reader: ${runs:-0} executions, ${cover:-cov: 0}, $((after - before)) found"
  if [ $status -ne 0 ] || [ "$after" -gt "$before" ]; then
    found=1
    grep -E 'ERROR|runtime error|logic_error|SUMMARY|what\(\)|terminate' "$log" | head -n 8 || true
  fi
  rmdir --ignore-fail-on-non-empty "$finds" tests/fuzz/found 2>/dev/null || true
done
exit $found
