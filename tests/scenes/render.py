#!/usr/bin/env python3
"""Traces the invented photos of fixtures/demo and tests/scenes/small, and writes what stood in them. See README.md.

Run: render.py [--only NAME ...] [--draft] [--keep FOLDER] [--check FOLDER] [--list]
"""
import argparse
import dataclasses
import hashlib
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import zlib

import cv2
import numpy as np

import optics
import pov
import seats
from optics import CAMERAS, unit

HERE = os.path.dirname(os.path.abspath(__file__))
PROJECT = os.path.dirname(os.path.dirname(HERE))
DEMO, SMALL = os.path.join(PROJECT, "fixtures", "demo"), os.path.join(HERE, "small")
BED = {"attic": (300, 400), "nook": (300, 300)}
BOARD = {"attic": (10, 7, 20.0), "nook": (9, 6, 15.0)}
LAID = {"attic": (78.0, 302.0, -88.0, 3.0), "nook": (84.0, 92.0, 1.5, 3.0)}   # board flat on the bed: x, y, angle, height
QUALITY = 90
BOARD_RADIOSITY = ("pretrace_start 0.08 pretrace_end 0.02 count 60 nearest_count 6 error_bound 1.0 recursion_limit 1 "
                   "low_error_factor 0.6 gray_threshold 0.3")
# fine enough to leave no patches beside the blanks, where an edge finder would see them
SCENE_RADIOSITY = ("pretrace_start 0.08 pretrace_end 0.005 count 150 nearest_count 8 error_bound 0.6 recursion_limit 1 "
                   "low_error_factor 0.6 gray_threshold 0.3 always_sample off")
HONEYCOMB = "honeycomb.png"


def witnesses(camera):
    w, h = BED[camera]
    return [[12.0, 12.0], [w - 12.0, 12.0], [12.0, h - 12.0], [w - 12.0, h - 12.0]]


# ---------------------------------------------------------------- tracing

def rng_of(name):
    return np.random.default_rng(zlib.crc32(name.encode()))


class Tracer:
    """Runs POV-Ray; keeps traced pictures in a folder, if there is one, so that a new lens or noise needs no new tracing."""

    def __init__(self, draft=False, kept=None):
        self.draft, self.kept = draft, kept

    def trace(self, camera, text, light, board=False):
        """Linear light of the traced picture. A board needs sharper sampling and plainer shadows than a scene."""
        (w, h), _ = camera.traced()
        light_sharing = BOARD_RADIOSITY if board else SCENE_RADIOSITY
        radiosity = "" if self.draft else "radiosity { " + light_sharing + " }"
        lamps = pov.lights(light, smooth=not board)
        if self.draft:
            lamps = re.sub(r"area_light.*orient", "", lamps)
        scene = ("#version 3.7;\nglobal_settings { assumed_gamma 1.0 max_trace_level 4 " + radiosity + " }\n"
                 "#default { finish { ambient " + ("0.35" if self.draft else "0") + " } }\n" + camera.pov() + lamps + text)
        with tempfile.TemporaryDirectory() as folder:
            picture = os.path.join(self.kept or folder, hashlib.sha256(f"{w} {h} {scene}".encode()).hexdigest()[:24] + ".png")
            if not os.path.exists(picture):
                self.run(folder, scene, (w, h), picture, ["+A0.02", "+R4"] if board else ["+A0.1", "+R3"])
            return cv2.imread(picture, cv2.IMREAD_UNCHANGED)[..., :3].astype(np.float32) / 65535.0

    def run(self, folder, scene, size, picture, sampling):
        cv2.imwrite(os.path.join(folder, HONEYCOMB), np.round(pov.honeycomb_tile() * 65535).astype(np.uint16))
        with open(os.path.join(folder, "scene.pov"), "w") as f:
            f.write(scene)
        antialias = ["-A"] if self.draft else ["+AM2", "-J", *sampling]
        call = ["povray", "+Iscene.pov", "+Opicture.png", "+FN16", f"+W{size[0]}", f"+H{size[1]}", "File_Gamma=1.0", "-D", "+WT1", "+Q9"]
        done = subprocess.run(call + antialias, capture_output=True, text=True, cwd=folder)
        if done.returncode:
            sys.exit(f"povray failed:\n{done.stderr[-3000:]}")
        shutil.move(os.path.join(folder, "picture.png"), picture)


def photo(tracer, path, camera, text, light="even", exposure=1.0, board=False):
    traced = tracer.trace(camera, text, light, board)
    os.makedirs(os.path.dirname(path), exist_ok=True)
    cv2.imwrite(path, camera.develop(traced, exposure, rng_of(os.path.relpath(path, PROJECT))), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])


def bed_with_marks(camera, kind):
    text = pov.bed(kind, BED[camera], HONEYCOMB)
    for x, y in witnesses(camera):
        text += pov.placed(pov.mark(), (x, y, 0.0))
    return text


# ---------------------------------------------------------------- the checkerboard

def hand_poses(camera):
    """The board in hand: its middle seen at px x, y, mm from the lens; roll, tilt off facing the lens, direction of the tilt's axis."""
    if camera == "attic":
        return [(800, 600, 400, 4, 4, 20), (510, 395, 430, 4, 24, 100), (1050, 410, 425, -5, 27, 10), (540, 800, 430, -4, 26, 190),
                (1090, 800, 430, 5, 25, 280), (800, 610, 400, 91, 27, 45), (860, 590, 400, 182, 28, 135), (425, 610, 420, 93, 22, 0),
                (1200, 600, 420, 87, 24, 180), (800, 610, 430, 40, 26, 240),
                # into the picture's corners: with these the boards reach every part of it
                (464, 858, 430, 0, 22, 45), (1136, 342, 430, 0, 22, 45), (464, 342, 430, 0, 22, 45), (1136, 858, 430, 0, 22, 45)]
    return [(800, 560, 190, 3, 6, 20), (430, 335, 210, -3, 22, 90), (1165, 335, 210, 4, 24, 270), (400, 850, 200, 3, 22, 0),
            (1220, 860, 195, -3, 24, 30), (800, 900, 190, 3, 26, 180), (800, 310, 220, 178, 28, 0), (820, 600, 190, 62, 24, 130),
            (290, 600, 210, 92, 20, 220), (1270, 600, 205, 86, 18, 0)]


def board_in_hand(camera, row):
    """Scene text and the board's frame (origin, axes as rows)."""
    columns, count, square = BOARD[camera]
    u, v, distance, roll, tilt, about = row
    seen = CAMERAS[camera]
    ray = seen.ray((u, v))
    # facing the lens: the printed face's normal goes back along the ray, its long side along the picture's right
    right = unit(np.cross(np.cross(ray, seen.rotation[0]), ray))
    up = np.cross(-ray, right)
    r, a, t = (math.radians(x) for x in (roll, about, tilt))
    x_axis = right * math.cos(r) + up * math.sin(r)
    k = right * math.cos(a) + up * math.sin(a)
    axes = np.array([w * math.cos(t) + np.cross(k, w) * math.sin(t) + k * (k @ w) * (1 - math.cos(t))
                     for w in (x_axis, np.cross(-ray, x_axis), -ray)])
    middle = np.asarray(seen.place) + distance * ray
    origin = middle - axes[0] * columns * square / 2 - axes[1] * count * square / 2
    return pov.placed(pov.board(columns, count, square, square * 0.9), origin, axes), origin, axes


def board_laid(camera):
    columns, count, square = BOARD[camera]
    x, y, angle, height = LAID[camera]
    return pov.placed(pov.board(columns, count, square, square * 0.9), (x, y, height), pov.flat_axes(angle)), (x, y, height), pov.flat_axes(angle)


def write_json(path, value):
    os.makedirs(os.path.dirname(path), exist_ok=True)
    with open(path, "w") as f:
        f.write(json.dumps(value, indent=1) + "\n")


def write_camera_files(folder, camera):
    columns, count, square = BOARD[camera.name]
    x, y, angle, height = LAID[camera.name]
    write_json(f"{folder}/board.json", {"squares": [columns, count], "square_mm": square,
               "pose": {"x_mm": x, "y_mm": y, "angle_deg": angle, "height_mm": height}, "witness_mm": witnesses(camera.name)})
    w, h = BED[camera.name]
    rows = ["px_x,px_y,bed_x_mm,bed_y_mm,height_mm"]
    for z in (0, 15):
        grid = np.array([(i, j, z) for i in np.linspace(24, w - 24, 9) for j in np.linspace(24, h - 24, 9)], float)
        for (px, py), (bx, by, _) in zip(camera.project(grid), grid):
            if 20 <= px <= camera.size[0] - 21 and 20 <= py <= camera.size[1] - 21:
                rows.append(f"{px:.4f},{py:.4f},{bx:.4f},{by:.4f},{z}")
    with open(f"{folder}/map_truth.csv", "w") as f:
        f.write("\n".join(rows) + "\n")


# ---------------------------------------------------------------- jigs with blanks

class Scene:
    """A fixture as the user declares it, and what really lies there."""

    def __init__(self, camera, fixture, there, bed="honeycomb", jig="grey", light="even", exposure=1.0, shift=(0.0, 0.0), turn=0.0,
                 margin=(12.0, 14.0), through=False, knock=None, load=1):
        self.camera, self.fixture, self.there, self.knock = CAMERAS[camera], fixture, there, knock
        self.bed, self.jig, self.light, self.exposure = bed, jig, light, exposure
        self.shift, self.turn, self.margin, self.through = shift, turn, margin, through
        self.load = load   # a later load of the same jig: the photo and the truth only, numbered
        self.pivot = np.mean([s["centre_mm"] for s in fixture["slots"]], axis=0)

    def moved(self, point):
        """Where a nominal point of the fixture really is."""
        a = math.radians(self.turn)
        d = np.asarray(point, float)[:2] - self.pivot
        return self.pivot + np.array([math.cos(a) * d[0] - math.sin(a) * d[1], math.sin(a) * d[0] + math.cos(a) * d[1]]) + self.shift

    def of(self, slot, key):
        return slot.get(key, self.fixture.get(key))

    def jig_text(self):
        slots = self.fixture["slots"]
        tops, reach, cuts = [], [], ""
        for slot in slots:
            seat, blank = self.of(slot, "seat"), self.of(slot, "blank")
            long = length_of(blank)
            reach += corners(slot, long + 2 * self.margin[0], width_of(blank) + 2 * self.margin[1])
            tops.append(top_of(seat, blank))
            cut = pov.groove(seat, blank, 600.0 if self.through else long + 10.0, tops[-1])
            cuts += pov.placed(cut, (*slot["centre_mm"], 0.0), pov.flat_axes(slot["axis_deg"]))
        for x, y, _ in self.fixture.get("marks_mm", []):
            reach += [(x - 12, y - 12), (x + 12, y + 12)]
        low, high = np.min(reach, axis=0), np.max(reach, axis=0)
        body = (f"difference {{ {pov.box((*low, 0), (*high, max(tops)))} {cuts} {pov.texture(self.jig, 3)} }}\n")
        for x, y, z in self.fixture.get("marks_mm", []):
            body += pov.placed(pov.mark(), (x, y, z + 0.015))
        # from nominal coordinates to where the fixture really stands
        axes = pov.flat_axes(self.turn)
        origin = np.array([*self.moved((0.0, 0.0)), 0.0])
        return pov.placed(body, origin, axes)

    def blanks(self):
        """Scene text and truth, slot by slot."""
        text, truth = "", []
        for slot in self.fixture["slots"]:
            real = self.there[slot["id"]]
            if real.get("state") == "empty":
                truth.append({"id": slot["id"], "state": "empty"})
                continue
            seat, blank = self.of(slot, "seat"), real.get("blank", self.of(slot, "blank"))
            a = math.radians(slot["axis_deg"])
            along, across = np.array([math.cos(a), math.sin(a)]), np.array([-math.sin(a), math.cos(a)])
            centre = self.moved(slot["centre_mm"] + along * real.get("along", 0.0) + across * real.get("across", 0.0))
            angle = slot["axis_deg"] + self.turn + real.get("rot", 0.0)
            # the design's middle, not the blank's: what centre_mm and offset_mm speak of
            beyond = (self.of(slot, "design") or {}).get("along_mm", 0.0)
            turned = math.radians(angle)
            design = centre + beyond * np.array([math.cos(turned), math.sin(turned)])
            wanted = slot["centre_mm"] + beyond * along
            skins = [pov.texture(s, zlib.crc32(slot["id"].encode()) % 97) for s in real["skins"]]
            entry = {"id": slot["id"], "state": real.get("state", "found"), "centre_mm": design.tolist()}
            if blank["kind"] in ("plate", "disc"):
                top = seat["floor_mm"] + blank["thickness_mm"]
                shape = pov.plate(blank, skins[0]) if blank["kind"] == "plate" else pov.disc(blank, skins[0])
                text += pov.placed(shape, (*centre, top), pov.flat_axes(angle))
            else:
                profile = pov.profile_of(blank)
                height, tilt = seats.resting(profile, seat)
                facing = angle + 180.0 if real.get("reversed") else angle
                text += pov.placed(pov.turned(profile, skins, real.get("clip", False)), (*centre, height), pov.flat_axes(facing, tilt))
                entry.update(axis_height_mm=height, diameter_mm=max(w for _, w in profile))
            if blank["kind"] == "disc":
                angle = slot["axis_deg"]
                entry["diameter_mm"] = blank["diameter_mm"]
            entry.update(axis_deg=angle, offset_mm=(design - wanted).tolist(), rotation_deg=angle - slot["axis_deg"])
            truth.append(entry)
        return text, truth

    def write(self, folder, tracer):
        text, truth = self.blanks()
        number = f"-{self.load}" if self.load > 1 else ""
        if not number:
            write_json(f"{folder}/fixture.json", self.fixture)
        told = {"camera": self.camera.name, "moved": self.knock is not None}
        if "marks_mm" in self.fixture:   # without marks the blanks' own scatter hides it
            told["fixture_shift"] = {"shift_mm": list(self.shift), "turn_deg": self.turn}
        write_json(f"{folder}/truth{number}.json", {**told, "slots": truth})
        # the camera was knocked after its pose was taken: moved by so many mm, still aimed at the same point
        seen = self.camera if self.knock is None else dataclasses.replace(self.camera, place=tuple(np.add(self.camera.place, self.knock)))
        photo(tracer, f"{folder}/photo{number}.jpg", seen, bed_with_marks(self.camera.name, self.bed) + self.jig_text() + text, self.light,
              self.exposure)


def length_of(blank):
    return {"round": lambda: blank["length_mm"], "turned": lambda: blank["profile_mm"][-1][0], "plate": lambda: blank["width_mm"],
            "disc": lambda: blank["diameter_mm"]}[blank["kind"]]()


def width_of(blank):
    return {"round": lambda: blank["diameter_mm"], "turned": lambda: max(w for _, w in blank["profile_mm"]),
            "plate": lambda: blank["height_mm"], "disc": lambda: blank["diameter_mm"]}[blank["kind"]]()


def top_of(seat, blank):
    return seat.get("top_mm", seat.get("floor_mm", 0.0) + 0.6 * blank.get("thickness_mm", 10.0))


def corners(slot, long, wide):
    axes = pov.flat_axes(slot["axis_deg"])[:2, :2]
    c = np.array(slot["centre_mm"])
    return [tuple(c + sx * long / 2 * axes[0] + sy * wide / 2 * axes[1]) for sx in (-1, 1) for sy in (-1, 1)]


def row_of_slots(count, first, step, axis_deg=0):
    return [{"id": str(i + 1), "centre_mm": [first[0] + i * step[0], first[1] + i * step[1]], "axis_deg": axis_deg} for i in range(count)]


def scattered(name, slots, skins, along=1.0, across=0.0, rot=0.0, **special):
    """Blanks put down by hand: deviations drawn from the scene's name. special: s<id>=dict of what differs in that slot."""
    rng = rng_of(name)
    there = {}
    for slot in slots:
        draw = rng.uniform(-1, 1, 3)
        there[slot["id"]] = {"along": round(float(draw[0]) * along, 3), "across": round(float(draw[1]) * across, 3),
                             "rot": round(float(draw[2]) * rot, 3), "skins": skins, **special.get("s" + slot["id"], {})}
    return there


def fixture_of(name, slots, **fields):
    return {"schema": "jigtrue.fixture/1", "name": name, **fields, "slots": slots}


PEN = [[0, 7.0], [2, 9.2], [6, 10.6], [96, 11.4], [100, 11.4], [103, 9.0], [126, 4.0], [136, 2.4]]
EMPTY = {"state": "empty"}


def demo_scenes():
    slots = row_of_slots(6, (150, 142), (0, 24))
    body = [[0, 8.2], [3, 10.8], [100, 10.8], [102, 9.6], [124, 4.4], [134, 2.4]]
    fixture = fixture_of("six fair pens", slots, blank={"kind": "turned", "profile_mm": body},
                         seat={"vee_bottom_mm": 5.0, "vee_angle_deg": 90, "top_mm": 9.5},
                         design={"width_mm": 60, "height_mm": 4.5, "along_mm": -14}, machine="../machine.json")
    skins = ["brass", "cherry", "brass", "steel", "steel"]
    def load(number, there, **look):
        # a jig that a shop does well to make: its rims below the barrels, and both ends of every pen in the open
        return Scene("attic", fixture, there, "plain", "ash", "even", through=True, margin=(-9.0, 14.0), load=number, **look)

    # the second load holds a pen that was turned end for end; before the third someone leaned on the camera's arm. Both
    # batches have no brass ring at their back
    plain = ["cherry", *skins[1:]]
    turned_round = {"reversed": True, "state": "mismatch"}
    return {"pens": load(1, scattered("pens", slots, skins, along=1.2, s5=EMPTY), shift=(0.9, -0.6), turn=0.4),
            "pens, second load": load(2, scattered("pens 2", slots, plain, along=1.2, s3=turned_round), shift=(-0.7, 0.5), turn=-0.3),
            "pens, third load": load(3, scattered("pens 3", slots, plain, along=1.2), shift=(0.3, 1.1), turn=0.2, knock=(2.5, -1.5, 0.5))}


def small_scenes():
    scenes = {}

    def add(name, camera, fixture, there, **look):
        scenes[name] = Scene(camera, fixture, there, **look)

    slots = row_of_slots(5, (150, 150), (0, 26))
    add("round_vee", "attic", fixture_of("round in vees", slots, blank={"kind": "round", "diameter_mm": 10.0, "length_mm": 124.0},
        seat={"vee_bottom_mm": 6.0, "vee_angle_deg": 90, "top_mm": 12.0}, design={"width_mm": 70, "height_mm": 4}),
        scattered("round_vee", slots, ["maple"], along=2.0), bed="slats", jig="grey", margin=(-10.0, 14.0), through=True)

    slots = row_of_slots(6, (146, 130), (0, 28))
    add("round_floor", "attic", fixture_of("round on floors", slots, blank={"kind": "round", "diameter_mm": 11.6, "length_mm": 110.0},
        seat={"floor_mm": 3.0, "top_mm": 9.0}, design={"width_mm": 60, "height_mm": 5}),
        scattered("round_floor", slots, ["cherry"], along=2.0, across=3.0, rot=1.4, s4=EMPTY), bed="honeycomb", jig="ply", light="side")

    slots = row_of_slots(5, (150, 150), (0, 27))
    add("turned_tip", "attic", fixture_of("pens with tip and clip", slots, blank={"kind": "turned", "profile_mm": PEN},
        seat={"floor_mm": 3.0, "top_mm": 8.0}, design={"width_mm": 62, "height_mm": 4, "along_mm": -15}),
        scattered("turned_tip", slots, ["black"], along=1.5, across=2.5, rot=1.0, s2={"clip": True}, s4={"clip": True},
                  s3={"reversed": True, "state": "mismatch"}), bed="plain", jig="white", light="lamp")

    slots = row_of_slots(4, (150, 160), (0, 30))
    taper = {"kind": "turned", "profile_mm": [[0, 9.0], [120, 14.0]]}
    add("taper_vee", "attic", fixture_of("tapered handles", slots, blank=taper, seat={"vee_bottom_mm": 4.0, "vee_angle_deg": 90, "top_mm": 10.0},
        design={"width_mm": 50, "height_mm": 4}), scattered("taper_vee", slots, ["ash"], along=2.0), bed="slats", jig="slate",
        light="even", shift=(-0.7, 0.8), turn=-0.3, margin=(-8.0, 16.0), through=True)

    slots = [{"id": f"{c}{r}", "centre_mm": [96.0 + 54 * i, 150.0 + 42 * j], "axis_deg": 0} for j, r in enumerate("123") for i, c in enumerate("abc")]
    add("plates", "attic", fixture_of("key tags", slots, blank={"kind": "plate", "width_mm": 42.0, "height_mm": 26.0, "thickness_mm": 3.0,
        "corner_radius_mm": 4.0}, seat={"floor_mm": 4.0, "top_mm": 5.5}, design={"width_mm": 30, "height_mm": 10}),
        scattered("plates", slots, ["maple"], along=0.8, across=0.8, rot=2.0, sb2=EMPTY), bed="honeycomb", jig="slate", light="far")

    slots = [{"id": str(i + 1), "centre_mm": c, "axis_deg": 0} for i, c in enumerate([[95, 155], [205, 155], [95, 255], [205, 255]])]
    add("discs", "attic", fixture_of("coasters", slots, blank={"kind": "disc", "diameter_mm": 80.0, "thickness_mm": 4.0},
        seat={"floor_mm": 3.0, "top_mm": 5.0}, design={"width_mm": 40, "height_mm": 40}),
        scattered("discs", slots, ["cherry"], along=1.2, across=1.2), bed="slats", jig="white", light="even")

    rod, tag = {"kind": "round", "diameter_mm": 12.0, "length_mm": 90.0}, {"kind": "plate", "width_mm": 50.0, "height_mm": 24.0, "thickness_mm": 3.0}
    coin, floor = {"kind": "disc", "diameter_mm": 40.0, "thickness_mm": 3.0}, {"floor_mm": 5.0, "top_mm": 8.0}
    slots = [{"id": "rod", "centre_mm": [110, 130], "axis_deg": 0}, {"id": "leaning rod", "centre_mm": [120, 190], "axis_deg": 30},
             {"id": "upright rod", "centre_mm": [215, 165], "axis_deg": 90}, {"id": "tag", "centre_mm": [200, 250], "axis_deg": 90, "blank": tag},
             {"id": "turned tag", "centre_mm": [140, 255], "axis_deg": 30, "blank": tag}, {"id": "coin", "centre_mm": [85, 245], "axis_deg": 0, "blank": coin}]
    there = scattered("mixed", slots, ["walnut"], along=1.0, across=1.0, rot=1.2)
    there["tag"]["skins"] = there["turned tag"]["skins"] = ["brass"]
    there["coin"]["skins"] = ["ash"]
    add("mixed", "attic", fixture_of("mixed kinds", slots, blank=rod, seat=floor, design={"width_mm": 30, "height_mm": 4}), there,
        bed="plain", jig="bamboo", light="lamp")

    slots = row_of_slots(5, (150, 150), (0, 26))
    add("odd_one", "attic", fixture_of("one of another diameter", slots, blank={"kind": "round", "diameter_mm": 11.0, "length_mm": 130.0},
        seat={"vee_bottom_mm": 6.0, "vee_angle_deg": 90, "top_mm": 13.0}, design={"width_mm": 70, "height_mm": 5}),
        scattered("odd_one", slots, ["steel"], along=1.5, s2={"state": "mismatch", "blank": {"kind": "round", "diameter_mm": 9.0, "length_mm": 130.0}}),
        bed="honeycomb", jig="blue", light="side", margin=(-10.0, 14.0), through=True)

    slots = row_of_slots(5, (150, 152), (0, 25))
    marks = [[66.0, 140.0, 10.0], [66.0, 264.0, 10.0], [234.0, 140.0, 10.0], [234.0, 264.0, 10.0]]
    add("marked", "attic", fixture_of("jig with marks", slots, blank={"kind": "round", "diameter_mm": 11.0, "length_mm": 126.0},
        seat={"floor_mm": 4.0, "top_mm": 10.0}, marks_mm=marks, design={"width_mm": 70, "height_mm": 5}),
        scattered("marked", slots, ["bamboo"], along=1.0, across=2.0, rot=0.8), bed="slats", jig="grey", shift=(1.3, -1.0), turn=0.6)

    slots = row_of_slots(3, (150, 170), (0, 30))
    add("knocked", "attic", fixture_of("camera knocked", slots, blank={"kind": "round", "diameter_mm": 11.0, "length_mm": 126.0},
        seat={"floor_mm": 4.0, "top_mm": 10.0}), scattered("knocked", slots, ["bamboo"], along=1.0, across=2.0, rot=0.8), bed="plain",
        jig="slate", knock=(4.0, -2.0, 1.0))

    slots = row_of_slots(5, (152, 90), (0, 25))
    add("wide_wood", "nook", fixture_of("wood on wood", slots, blank={"kind": "round", "diameter_mm": 10.4, "length_mm": 120.0},
        seat={"vee_bottom_mm": 6.0, "vee_angle_deg": 90, "top_mm": 12.0}, design={"width_mm": 66, "height_mm": 4}),
        scattered("wide_wood", slots, ["ash"], along=1.5), bed="plain", jig="ply", light="lamp", margin=(-8.0, 14.0), through=True)

    slots = row_of_slots(5, (152, 88), (0, 26))
    add("wide_dark", "nook", fixture_of("dark on dark", slots, blank={"kind": "round", "diameter_mm": 11.0, "length_mm": 120.0},
        seat={"floor_mm": 3.0, "top_mm": 8.0}, design={"width_mm": 66, "height_mm": 4}),
        scattered("wide_dark", slots, ["walnut"], along=1.5, across=2.5, rot=1.2, s3=EMPTY), bed="dark", jig="slate", light="even",
        exposure=1.3)
    return scenes


# ---------------------------------------------------------------- all pictures, and the check of the geometry

def jobs(tracer):
    """Name -> what writes it."""
    work = {}

    def camera_jobs(folder, name):
        camera = CAMERAS[name]

        def lens(i, row):
            photo(tracer, f"{folder}/lens/{i:02d}.jpg", camera, pov.bed("plain", BED[name], "") + board_in_hand(name, row)[0], board=True)

        def pose():
            write_camera_files(folder, camera)
            photo(tracer, f"{folder}/pose.jpg", camera, bed_with_marks(name, "plain") + board_laid(name)[0], board=True)

        for i, row in enumerate(hand_poses(name)):
            work[f"{name}/lens/{i:02d}"] = lambda i=i, row=row: lens(i, row)
        work[f"{name}/pose"] = pose

    camera_jobs(f"{DEMO}/cameras/attic", "attic")
    for root, scenes in ((DEMO, demo_scenes()), (SMALL, small_scenes())):
        for name, scene in scenes.items():
            work[name] = lambda scene=scene, folder=f"{root}/{name.split(',')[0]}": scene.write(folder, tracer)
    camera_jobs(f"{SMALL}/cameras/nook", "nook")
    return work


def check_geometry(name, overlay):
    """Corners of the laid board and one in hand, found in noise-free photos, against their projection. Prints the differences."""
    camera = CAMERAS[name]
    columns, count, square = BOARD[name]
    inner = np.array([(i * square, j * square, 0.0) for j in range(1, count) for i in range(1, columns)])
    cases = {"laid": (bed_with_marks(name, "plain") + board_laid(name)[0], *board_laid(name)[1:])}
    text, origin, axes = board_in_hand(name, hand_poses(name)[1])
    cases["in hand"] = (pov.bed("plain", BED[name], "") + text, origin, axes)
    for case, (text, origin, axes) in cases.items():
        picture = camera.develop(Tracer().trace(camera, text, "even", board=True), 1.0, None, 0)
        gray = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
        points = inner @ axes + origin
        if case == "laid":
            points = np.vstack([points, [(x, y, 0.0) for x, y in witnesses(name)]])
        told = camera.project(points)
        found = told.astype(np.float32).reshape(-1, 1, 2).copy()
        cv2.cornerSubPix(gray, found, (6, 6), (-1, -1), (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 100, 1e-4))
        d = found.reshape(-1, 2) - told
        print(f"{name} {case}: {len(d)} corners, mean {d[:, 0].mean():+.4f} {d[:, 1].mean():+.4f} px, "
              f"rms {np.sqrt((d ** 2).sum(1).mean()):.4f} px, worst {np.hypot(*d.T).max():.4f} px")
        for x, y in told:
            cv2.drawMarker(picture, (int(round(x)), int(round(y))), (0, 0, 255), cv2.MARKER_CROSS, 13, 1)
        if overlay:
            cv2.imwrite(os.path.join(overlay, f"{name}_{case.replace(' ', '_')}.png"), picture)


if __name__ == "__main__":
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("--only", nargs="+", default=[], help="pictures whose name starts so")
    ap.add_argument("--draft", action="store_true", help="fast and coarse, into the same files")
    ap.add_argument("--check", metavar="FOLDER", help="measure the geometry, write overlays there, render nothing else")
    ap.add_argument("--keep", metavar="FOLDER", help="keep traced pictures there, and take them from there")
    ap.add_argument("--list", action="store_true")
    a = ap.parse_args()
    if a.draft:
        optics.OVERSAMPLE = 0.75
    if a.check:
        for camera_name in CAMERAS:
            check_geometry(camera_name, a.check)
        sys.exit()
    for name, job in jobs(Tracer(a.draft, a.keep)).items():
        if a.only and not any(name.startswith(p) for p in a.only):
            continue
        print(name, flush=True)
        if not a.list:
            job()
