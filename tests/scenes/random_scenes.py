#!/usr/bin/env python3
"""Traced photos of random jigs, blanks, woods and lights, with their truth. Invented data.

    tests/scenes/random_scenes.py FOLDER --seed 5000 --count 48 [--scale 1.7] [--odd]

The cameras are those of render.py, `--scale` times as fine; their camera.json is `FOLDER/NAME.json`, made from one calibrated at scale 1
(`--camera NAME=FILE`). Only the jig's part of a picture is traced: about 20 s a scene on one core. --odd: some blanks are of another
diameter, length or height, or lie end for end.
"""
import argparse
import dataclasses
import json
import os

import numpy as np

import optics
import render as R

SKINS = ["maple", "ash", "walnut", "cherry", "bamboo", "black", "steel", "brass"]
JIGS = ["ply", "white", "grey", "slate", "bamboo", "blue", "ash", "walnut"]
KINDS = ["round_vee", "round_floor", "turned", "taper", "plates", "discs", "round_floor", "round_vee"]
ALL_EMPTY_EACH, EMPTY_SHARE, ODD_SHARE = 6, 0.2, 0.35
optics.OVERSAMPLE = 1.0
R.SCENE_RADIOSITY = ("pretrace_start 0.08 pretrace_end 0.01 count 35 nearest_count 5 error_bound 1.0 recursion_limit 1 "
                     "low_error_factor 0.6 gray_threshold 0.3")


class PartTracer(R.Tracer):
    """Traces a part of the picture; what lies outside stays black."""
    part = (0, 0, 0, 0)

    def run(self, folder, scene, size, picture, sampling):
        left, top, right, bottom = self.part
        super().run(folder, scene, size, picture, ["+A0.25", "+R2", f"+SC{max(left, 1)}", f"+EC{min(right, size[0])}",
                                                   f"+SR{max(top, 1)}", f"+ER{min(bottom, size[1])}"])


def part_of(scene):
    """The traced pixels that the jig and its surroundings fall on."""
    points = [(*corner, z) for slot in scene.fixture["slots"] for z in (0, 20)
              for corner in R.corners(slot, R.length_of(scene.of(slot, "blank")) + 50, R.width_of(scene.of(slot, "blank")) + 40)]
    camera = scene.camera
    (w, h), scale = camera.traced()
    x = (camera.project(points) - np.array(camera.centre)) / camera.focal
    r = np.maximum(np.hypot(*x.T), 1e-9)
    at = x / r[:, None] * (camera.traced_radius(camera.theta_of(r)) * scale)[:, None] + np.array([(w - 1) / 2, (h - 1) / 2])
    return (*np.floor(at.min(0) - 10).astype(int), *np.ceil(at.max(0) + 10).astype(int))


def scale_cameras(k, calibrated, folder):
    finer = lambda x: (x + 0.5) * k - 0.5
    for name, camera in list(optics.CAMERAS.items()):
        optics.CAMERAS[name] = dataclasses.replace(camera, size=tuple(int(s * k) for s in camera.size), focal=camera.focal * k,
                                                   centre=tuple(map(finer, camera.centre)))
        if name not in calibrated:
            continue
        with open(calibrated[name]) as f:
            c = json.load(f)
        size = [int(s * k) for s in c["image_size_px"]]
        c["image_size_px"] = c["lens"]["image_size_px"] = size
        p = c["lens"]["parameters"]
        p.update(fx=p["fx"] * k, fy=p["fy"] * k, cx=finer(p["cx"]), cy=finer(p["cy"]))
        for covariance in (c["lens"]["covariance"], c["covariance"]):
            for i in range(4):
                covariance[i] = [v * k for v in covariance[i]]
                for row in covariance:
                    row[i] *= k
        for left_out in ("witness", "inputs"):   # the marks are not traced
            c.pop(left_out, None)
            c["lens"].pop(left_out, None)
        with open(os.path.join(folder, f"{name}.json"), "w") as f:
            json.dump(c, f)


def jig(kind, place, rng, pick):
    """Slots, blank, seat, how the blanks scatter, how the jig is cut."""
    x, y = place
    d, length = round(float(rng.uniform(8.5, 13)), 1), round(float(rng.uniform(95, 135)), 1)
    if kind == "round_vee":
        top = round(6 + d * rng.uniform(0.35, 0.75), 1)
        return (R.row_of_slots(5, place, (0, round(d + rng.uniform(9, 15), 1))), {"kind": "round", "diameter_mm": d, "length_mm": length},
                {"vee_bottom_mm": 6.0, "vee_angle_deg": 90, "top_mm": top}, {"along": 2.0},
                {"margin": (float(pick([-10.0, 12.0])), 14.0), "through": bool(rng.integers(2))})
    if kind == "round_floor":
        return (R.row_of_slots(5, place, (0, round(d + 14 + rng.uniform(0, 3), 1))), {"kind": "round", "diameter_mm": d, "length_mm": length},
                {"floor_mm": 3.0, "top_mm": round(3 + d * rng.uniform(0.3, 0.7), 1)}, {"along": 1.8, "across": 2.5, "rot": 1.2}, {})
    if kind == "turned":
        s = float(rng.uniform(0.9, 1.1))
        return (R.row_of_slots(5, place, (0, 27)), {"kind": "turned", "profile_mm": [[round(a * s, 2), round(b * s, 2)] for a, b in R.PEN]},
                {"floor_mm": 3.0, "top_mm": 8.0}, {"along": 1.5, "across": 2.0, "rot": 1.0}, {})
    if kind == "taper":
        return (R.row_of_slots(4, (x, y + 10), (0, 30)), {"kind": "turned", "profile_mm": [[0, 9.0], [120, 14.0]]},
                {"vee_bottom_mm": 4.0, "vee_angle_deg": 90, "top_mm": 10.0}, {"along": 2.0}, {"margin": (-8.0, 16.0), "through": True})
    if kind == "plates":
        slots = [{"id": f"{c}{r}", "centre_mm": [x - 54 + 54 * i, y + 44 * j], "axis_deg": 0}
                 for j, r in enumerate("123") for i, c in enumerate("abc")]
        blank = {"kind": "plate", "width_mm": 42.0, "height_mm": 26.0, "thickness_mm": 3.0, "corner_radius_mm": float(pick([0.0, 3.0]))}
        return (slots, blank, {"floor_mm": 4.0, "top_mm": round(4 + rng.uniform(0.8, 2.5), 1)},
                {"along": 0.8, "across": 0.8, "rot": 2.0}, {})
    slots = [{"id": str(i + 1), "centre_mm": [x - 50 + 100 * (i % 2), y + 10 + 100 * (i // 2)], "axis_deg": 0} for i in range(4)]
    return (slots, {"kind": "disc", "diameter_mm": 70.0, "thickness_mm": 4.0}, {"floor_mm": 3.0, "top_mm": 5.0},
            {"along": 1.2, "across": 1.2}, {})


def made_odd(there, blank, rng, pick):
    odd = {**there, "state": "mismatch"}
    if blank["kind"] == "turned":
        odd["reversed"] = True
    elif blank["kind"] == "plate":
        odd["blank"] = {**blank, "height_mm": blank["height_mm"] + float(pick([-4, -3, 3]))}
    elif rng.integers(3):
        odd["blank"] = {**blank, "diameter_mm": round(blank["diameter_mm"] + float(pick([-2.5, -1.6, 1.3, 1.9])), 1)}
    else:
        odd["blank"] = {**blank, "length_mm": round(blank["length_mm"] + float(pick([-9, -5, 4])), 1)}
    return odd


def write_scene(folder, seed, k, odd, tracer):
    rng = np.random.default_rng(seed + k)
    pick = lambda choices: choices[rng.integers(len(choices))]
    camera = "attic" if k % 3 else "nook"
    kind = KINDS[k % len(KINDS)]
    skin, wood, light, bed = pick(SKINS), pick(JIGS), pick(["even", "side", "lamp", "far"]), pick(["plain", "slats", "dark"])
    slots, blank, seat, scatter, cut = jig(kind, (150, 150) if camera == "attic" else (152, 90), rng, pick)
    # how blanks lie is drawn from the name, all else from the seed: scenes of the same number lie alike
    fixture = R.fixture_of(f"dev{k}", slots, blank=blank, seat=seat, design={"width_mm": 30, "height_mm": 4})
    there = R.scattered(fixture["name"], slots, [skin], **scatter)
    for slot in slots:
        if rng.uniform() < (1.0 if k % ALL_EMPTY_EACH == ALL_EMPTY_EACH - 1 else EMPTY_SHARE):
            there[slot["id"]] = R.EMPTY
    for slot in slots if odd else []:
        if there[slot["id"]] is not R.EMPTY and blank["kind"] != "disc" and rng.uniform() <= ODD_SHARE:
            there[slot["id"]] = made_odd(there[slot["id"]], blank, rng, pick)
    scene = R.Scene(camera, fixture, there, bed=bed, jig=wood, light=light, exposure=float(rng.uniform(0.8, 1.3)),
                    shift=tuple(rng.uniform(-1, 1, 2).round(2).tolist()), turn=float(round(rng.uniform(-0.5, 0.5), 2)), **cut)
    tracer.part = part_of(scene)
    scene.write(os.path.join(folder, f"{seed + k}_{kind}_{skin}_{wood}_{light}"), tracer)


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("folder")
    arguments.add_argument("--seed", type=int, default=5000)
    arguments.add_argument("--count", type=int, default=48)
    arguments.add_argument("--scale", type=float, default=1.7)
    arguments.add_argument("--odd", action="store_true")
    arguments.add_argument("--camera", action="append", default=[], metavar="NAME=FILE")
    asked = arguments.parse_args()
    os.makedirs(asked.folder, exist_ok=True)
    scale_cameras(asked.scale, dict(c.split("=", 1) for c in asked.camera), asked.folder)
    tracer = PartTracer()
    for k in range(asked.count):
        write_scene(asked.folder, asked.seed, k, asked.odd, tracer)
        print(f"{k + 1} of {asked.count}", flush=True)


if __name__ == "__main__":
    main()
