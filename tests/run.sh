#!/usr/bin/env bash
# Builds jigtrue with its tests and runs them all. Exit status 0 only if tests ran and none failed.
# JIGTRUE_SANITIZE=1: with the address and undefined-behaviour sanitizers, without the slow statistics. By clang where that is
# installed: GCC takes nearly twice as long to compile the same checks, and clang has libFuzzer, for a short run of every reader.
# JIGTRUE_SUITES="image cli" (of the folders beside this file): builds and runs only these.
# Further arguments go to ctest, e.g. tests/run.sh -R geometry.
set -euo pipefail

top=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$top"

# Under sudo the build shall belong to the person who asked, not to root.
give_back() {
  if [ "$(id -u)" -eq 0 ] && [ -n "${SUDO_UID:-}" ] && [ -d build ]; then
    chown -R "$SUDO_UID:${SUDO_GID:-$SUDO_UID}" build || true
  fi
}
trap give_back EXIT

build=build/test
options=(-DJIGTRUE_TESTS=ON -DCMAKE_BUILD_TYPE=Release)
# what ccache needs to be told to look through precompiled headers
export CCACHE_SLOPPINESS=${CCACHE_SLOPPINESS:-pch_defines,time_macros}
choice=()
if [ "${JIGTRUE_SANITIZE:-0}" = 1 ]; then
  build=build/sanitize
  # Debug for the libraries' own assertions, optimised: plain debug code is too slow for the picture tests, and -O1 takes clang no
  # less time, as it inlines less of Eigen for the sanitizers to look at.
  # The ordinary build holds the code to its warnings.
  options=(-DJIGTRUE_TESTS=ON -DJIGTRUE_SANITIZE=ON -DCMAKE_BUILD_TYPE=Debug "-DCMAKE_CXX_FLAGS_DEBUG=-O2 -g1 -D_GLIBCXX_ASSERTIONS"
           -DJIGTRUE_WERROR=OFF)
  choice=(-LE slow)
  export UBSAN_OPTIONS=${UBSAN_OPTIONS:-print_stacktrace=1}
fi

bash fixtures/install-packages.sh --tests

can_sanitize() {
  echo 'int main() {}' | "$1" -x c++ -std=c++20 -fsanitize=fuzzer-no-link,address,undefined - -o /dev/null 2>/dev/null
}

if [ ! -f $build/CMakeCache.txt ]; then
  if [ "${JIGTRUE_SANITIZE:-0}" = 1 ] && can_sanitize clang++; then
    options+=(-DCMAKE_CXX_COMPILER=clang++ -DJIGTRUE_FUZZ=ON)
  fi
  if command -v ninja >/dev/null; then options+=(-G Ninja); fi
  if command -v ccache >/dev/null; then options+=(-DCMAKE_CXX_COMPILER_LAUNCHER=ccache); fi
fi
cmake -S . -B $build "${options[@]}"

targets=()
if [ -n "${JIGTRUE_SUITES:-}" ]; then
  read -ra suites <<<"$JIGTRUE_SUITES"
  suites=("${suites[@]/#/jigtrue_}")
  targets=(--target "${suites[@]/%/_tests}")
  choice+=(-R "^(${JIGTRUE_SUITES// /|})[.]")
fi
cmake --build $build --parallel "$(nproc)" "${targets[@]}"

# glibc gives freed memory back to the kernel and asks for it anew where matrices of some hundred rows come and go: up to two
# thirds of a statistic's time. With these it keeps what it has.
export MALLOC_TRIM_THRESHOLD_=${MALLOC_TRIM_THRESHOLD_:-268435456} MALLOC_MMAP_THRESHOLD_=${MALLOC_MMAP_THRESHOLD_:-33554432}

results=$top/$build/results.xml
rm -f "$results"
status=0
ctest --test-dir $build -j2 --output-on-failure --no-tests=error --output-junit "$results" "${choice[@]}" "$@" || status=$?

# The head of the results names the counts; what is absent counts as 0.
count() { sed -n "/<testsuite /,/>/p" "$results" | sed -nE "s/.*[[:space:]]$1=\"([0-9]+)\".*/\1/p" | head -n 1; }
if [ ! -s "$results" ]; then
  echo "tests: no results were written: no test ran" >&2
  exit 1
fi
all=$(count tests) failed=$(count failures) skipped=$(count skipped) disabled=$(count disabled)
ran=$((${all:-0} - ${skipped:-0} - ${disabled:-0}))
echo "tests: $ran ran, ${failed:-0} failed, ${skipped:-0} skipped, ${disabled:-0} disabled ($build)"
if [ "$ran" -le 0 ]; then
  echo "tests: no test ran" >&2
  exit 1
fi
exit $status
