#!/usr/bin/env bash
# Lines and branches of src/ and include/ that the tests run through, by gcov (GCC). Slow: builds all anew, hardly optimised.
# Only our own functions count their branches (two threads that share counters may lose counts, but no first one).
#   tests/coverage.sh [BUILD_FOLDER [CTEST_ARGUMENTS...]]     build/coverage if none is named
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
build=${1:-build/coverage}
shift || true
# a pattern without what a shell takes for its own: src and include
flags="-O1 -g0 --coverage -fno-early-inlining -fprofile-update=single -fprofile-filter-files=$PWD/[si][rn]c.*"
cmake -S . -B "$build" -DCMAKE_BUILD_TYPE=Debug "-DCMAKE_CXX_FLAGS_DEBUG=$flags" \
  -DJIGTRUE_WERROR=OFF -DCMAKE_CXX_COMPILER=g++ >/dev/null
cmake --build "$build" --parallel "${JIGTRUE_COVERAGE_JOBS:-$(nproc)}"
find "$build" -name '*.gcda' -delete
ctest --test-dir "$build" -j "${JIGTRUE_COVERAGE_JOBS:-$(nproc)}" "$@" || echo "coverage: some tests failed; counting all the same" >&2
reports=$(mktemp -d)
trap 'rm -rf "$reports"' EXIT
top=$PWD
# batches of different targets have the same name: each one's report into a folder of its own
find "$(cd "$build" && pwd)/CMakeFiles" -name '*.gcda' >"$reports/list"
while IFS= read -r counts; do
  (cd "$(mktemp -d "$reports/XXXXXX")" && gcov --json-format --branch-probabilities "$counts" >/dev/null)
done <"$reports/list"
python3 - "$top" "$reports" <<'PY'
import collections, glob, gzip, json, sys
top, reports = sys.argv[1:]
lines = collections.defaultdict(int)
branches = collections.defaultdict(int)
for name in glob.glob(reports + "/*/*.gcov.json.gz"):
    for file in json.load(gzip.open(name))["files"]:
        path = file["file"]
        if not path.startswith((top + "/src/", top + "/include/")):
            continue
        layer = path[len(top) + 1:].replace("include/jigtrue/", "").replace("src/", "").split("/")[0]
        for line in file["lines"]:
            lines[layer, path, line["line_number"]] += line["count"]
            for index, branch in enumerate(line["branches"]):
                if not branch["throw"]:  # a call that may throw is no decision of ours
                    branches[layer, path, line["line_number"], index] += branch["count"]
def share(counts, layer=None):
    chosen = [n for key, n in counts.items() if layer in (None, key[0])]
    return f"{sum(n > 0 for n in chosen):6d} of {len(chosen):6d}  {100 * sum(n > 0 for n in chosen) / max(1, len(chosen)):5.1f} %"
for layer in sorted({key[0] for key in lines}) + [None]:
    print(f"{layer or 'all':12s} lines {share(lines, layer)}   branches {share(branches, layer)}")
PY
