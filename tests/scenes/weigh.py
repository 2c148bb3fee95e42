#!/usr/bin/env python3
"""Fits the weights of src/detection/plausibility_weights.hpp to readings of traced pictures with known truth.

    jigtrue_readings_dump SCENE CAMERA.json ... > readings.jsonl
    tests/scenes/weigh.py readings.jsonl             # prints the rates that scenes left out of a fit reach
    tests/scenes/weigh.py readings.jsonl --write     # and writes the weights fitted to all scenes

Logistic regression with a ridge (Cox 1958; le Cessie & van Houwelingen 1992) on standardised traits, by Newton's method. A reading
counts as the blank within 0.2 mm across and 0.6 mm along, as something else from 0.3 and 0.9 mm on; what lies between is left out.
The rates are those of the odds alone: the program also holds girth and length against the declared ones.
"""
import argparse
import json
import os

import numpy as np

HERE = os.path.dirname(os.path.abspath(__file__))
WEIGHTS = os.path.join(os.path.dirname(os.path.dirname(HERE)), "src", "detection", "plausibility_weights.hpp")
RIDGE = 10.0
FOLDS = 10
CLEAR, EMPTY, HARDLY_A_BLANK = 0.7, 0.7, 0.3   # as in readings.cpp and measure_slot.cpp
ENDS_SUPPORT, ENDS_QUALITY, RUNS_ON, BEYOND_TOLERANCE, EVIDENCE, ON_OUTLINE = 10, 12, 13, 14, 17, 16


def fit(x, y):
    """Weights on the traits as they are, constant first."""
    mean, spread = x.mean(0), x.std(0) + 1e-9
    z = np.column_stack([np.ones(len(x)), (x - mean) / spread])
    w = np.zeros(z.shape[1])
    penalty = np.diag([0.0] + [RIDGE] * (z.shape[1] - 1))
    for _ in range(60):
        p = 1.0 / (1.0 + np.exp(-z @ w))
        step = np.linalg.solve(z.T * (p * (1.0 - p)) @ z + penalty, z.T @ (y - p) - penalty @ w)
        w += step
        if np.abs(step).max() < 1e-9:
            break
    of = w[1:] / spread
    return np.concatenate([[w[0] - of @ mean], of])


def odds(w, x):
    return w[0] + np.asarray(x) @ w[1:]


def limit(probability):
    return np.log(probability / (1 - probability))


def verdict(reading, state):
    """1 the blank, 0 something else, None neither."""
    # the same outline but for its size, or end for end, is told by what else explains the picture
    if state == "mismatch" or (state == "found" and abs(reading["length_mm"]) > 1.2):
        return None
    if state == "empty" or reading["off_mm"] is None:
        return 0
    along, across = np.abs(reading["off_mm"])
    if state == "found" and along < 0.6 and across < 0.2:
        return 1
    return 0 if along > 0.9 or across > 0.3 else None


def blank_fit(slots):
    rows = [(r["traits"], verdict(r, s["state"])) for s in slots for r in s["readings"] if r["declared"]]
    rows = [(t, v) for t, v in rows if v is not None]
    return fit(np.array([t for t, _ in rows]), np.array([v for _, v in rows], float))


def slot_traits(slot, weights):
    kinds = [[r for r in slot["readings"] if r["declared"] == declared] for declared in (True, False)]
    every = [r["traits"] for r in slot["readings"]]
    most = lambda i, least=0.0: max([least] + [t[i] for t in every])
    return [max([-10.0] + [odds(weights, r["traits"]) for r in kinds[0]]), max([-10.0] + [odds(weights, r["traits"]) for r in kinds[1]]),
            max([0.0] + [r["traits"][ENDS_QUALITY] for r in kinds[0]]), max([0.0] + [r["traits"][ENDS_QUALITY] for r in kinds[1]]),
            slot["ends"], slot["support"], most(ENDS_SUPPORT), min([1.0] + [t[RUNS_ON] for t in every]), most(ON_OUTLINE), most(EVIDENCE),
            slot["chance"]]


def both_fits(slots):
    """Of the blank, and of the empty slot: the latter on odds from fits that did not see its scenes."""
    parts = folds(slots)
    traits, empty = [], []
    for part in parts:
        seen = blank_fit([s for s in slots if id(s) not in part])
        for slot in slots:
            if id(slot) in part:
                traits.append(slot_traits(slot, seen))
                empty.append(float(slot["state"] == "empty"))
    return blank_fit(slots), fit(np.array(traits), np.array(empty))


def folds(slots):
    scenes = sorted({s["scene"] for s in slots})
    order = np.random.default_rng(0).permutation(len(scenes))
    return [{id(s) for s in slots if s["scene"] in {scenes[i] for i in order[k::FOLDS]}} for k in range(FOLDS)]


def rates(name, slots):
    count = dict.fromkeys(["found", "found, taken", "found, called empty", "taken for found wrongly", "empty", "empty, called so"], 0)
    wrong = []
    for part in folds(slots):
        blank, empty = both_fits([s for s in slots if id(s) not in part])
        for slot in slots:
            if id(slot) not in part or slot["state"] == "mismatch":
                continue
            declared = [(odds(blank, r["traits"]), r) for r in slot["readings"] if r["declared"]]
            best, reading = max(declared, key=lambda t: t[0], default=(-10.0, None))
            count[slot["state"]] += 1
            if best > limit(CLEAR):
                right = slot["state"] == "found" and verdict(reading, "found") != 0
                count["found, taken"] += right
                if not right:
                    count["taken for found wrongly"] += 1
                    wrong.append(f"{os.path.basename(slot['scene'])} {slot['slot']} {slot['state']} {reading['off_mm']}")
            elif best < limit(HARDLY_A_BLANK) and odds(empty, slot_traits(slot, blank)) > limit(EMPTY):
                count["empty, called so" if slot["state"] == "empty" else "found, called empty"] += 1
    print(f"{name}: {len(slots)} slots of {len({s['scene'] for s in slots})} scenes:", ", ".join(f"{v} {k}" for k, v in count.items()))
    for line in wrong:
        print("   wrong:", line)


def table(name, kind, weights):
    lines = [f"inline constexpr Weights<{kind}> {name}{{", f"    {weights[0]:.4f},", "    {{"]
    lines += [f"        {w:.4f}," for w in weights[1:]]
    return "\n".join(lines + ["    }}};"])


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("readings")
    arguments.add_argument("--write", action="store_true")
    arguments.add_argument("--only", default="", help="scenes whose path holds this")
    asked = arguments.parse_args()
    with open(asked.readings) as f:
        slots = [s for s in map(json.loads, f) if asked.only in s["scene"]]
    tables = []
    for flat, name in ((False, "Revolution"), (True, "Flat")):
        own = [s for s in slots if s["flat"] == flat]
        rates(name, own)
        blank, empty = both_fits(own)
        tables += [table(f"k{name}Blank", "kReadingTraits", blank), table(f"k{name}Empty", "kSlotTraits", empty)]
    if asked.write:
        with open(WEIGHTS, "w") as f:
            f.write("// Written by tests/scenes/weigh.py; not to be edited.\n// clang-format off\n#pragma once\n"
                    '#include "jigtrue/detection/plausibility.hpp"\n\nnamespace jigtrue {\n\n'
                    "template <std::size_t N>\nstruct Weights {\n  double constant;\n  std::array<double, N> of;\n};\n\n"
                    + "\n\n".join(tables) + "\n\n}  // namespace jigtrue\n")


if __name__ == "__main__":
    main()
