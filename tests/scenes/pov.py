"""Scene text for POV-Ray: textures, lights, beds, boards, marks, jigs and blanks. Lengths in mm.

All places are given as numbers of the right-handed bed frame and never by POV-Ray's own rotations; its camera takes explicit
vectors (optics.py), so that its left-handed habit plays no part.
"""
import math

import cv2
import numpy as np
from optics import vec

CHECK_LIFT = 0.0005  # printed fields stand this far above their paper, so that they are seen


def wood(light, dark, ring=1.6, seed=0):
    """Grain along local X."""
    shift = vec(((seed * 37) % 101, (seed * 17) % 29 - 14, (seed * 23) % 31 + 6))
    return f"""texture {{ pigment {{ average pigment_map {{
      [1.0 wood turbulence 0.06 octaves 3 color_map {{ [0 rgb {vec(light)}] [0.55 rgb {vec(np.add(light, dark) / 2)}] [0.9 rgb {vec(dark)}] [1 rgb {vec(light)}] }}
        matrix <0,0,1, 0,1,0, 1,0,0, 0,0,0> scale <18, {ring}, {ring}> ]
      [0.7 granite color_map {{ [0 rgb {vec(dark)}] [0.6 rgb {vec(light)}] [1 rgb {vec(light)}] }} scale <26, 0.9, 0.9> ] }}
      translate {shift} }}
      finish {{ diffuse 0.8 specular 0.06 roughness 0.06 }} }}"""


def plain(rgb, specular=0.05, roughness=0.05, reflection=0.0):
    return f"texture {{ pigment {{ rgb {vec(rgb)} }} finish {{ diffuse 0.8 specular {specular} roughness {roughness} reflection {reflection} }} }}"


def texture(name, seed=0):
    woods = {"maple": ((0.72, 0.52, 0.30), (0.52, 0.34, 0.17)), "ash": ((0.66, 0.52, 0.36), (0.44, 0.31, 0.19)),
             "walnut": ((0.13, 0.075, 0.045), (0.05, 0.028, 0.018)), "cherry": ((0.42, 0.19, 0.09), (0.26, 0.10, 0.045)),
             "bamboo": ((0.70, 0.55, 0.28), (0.58, 0.42, 0.19)), "ply": ((0.62, 0.47, 0.29), (0.50, 0.36, 0.21))}
    if name in woods:
        return wood(*woods[name], seed=seed)
    return {"white": plain((0.80, 0.80, 0.78)), "grey": plain((0.22, 0.23, 0.24)), "slate": plain((0.09, 0.095, 0.10)),
            "black": plain((0.025, 0.025, 0.028), 0.25, 0.03), "paper": plain((0.82, 0.82, 0.80), 0), "ink": plain((0.03, 0.03, 0.03), 0),
            "steel": plain((0.42, 0.43, 0.44), 0.5, 0.02, 0.12), "brass": plain((0.55, 0.38, 0.12), 0.5, 0.02, 0.10),
            "blue": plain((0.04, 0.10, 0.28), 0.3, 0.02)}[name]


def lights(kind, smooth=True):
    """Soft shadows; a sky of one grey for the rest. smooth: shadows without steps, at twice the time."""
    def lamp(place, strength, size):
        return (f"light_source {{ {vec(place)} rgb {strength} area_light <{size},0,0>, <0,{size},0>, 5, 5 adaptive {int(smooth)} "
                f"circular orient }}\n")
    sky = {"even": 0.50, "side": 0.30, "lamp": 0.35, "far": 0.40}[kind]
    text = f"background {{ rgb {sky} }}\n"
    if kind == "even":
        text += lamp((-150, 350, 700), 0.45, 200) + lamp((450, -50, 700), 0.40, 200)
    elif kind == "side":
        text += lamp((-420, 180, 420), 0.95, 140)
    elif kind == "far":
        text += lamp((300, 700, 600), 0.85, 160)
    else:
        text += lamp((230, 330, 620), 0.85, 110)
    return text


def box(low, high, skin=""):
    return f"box {{ {vec(low)}, {vec(high)} {skin} }}\n"


def placed(text, origin, axes=np.eye(3)):
    """The text's local x, y, z along the rows of `axes`, its origin at `origin`."""
    m = ", ".join(f"{float(v):.12g}" for v in np.vstack([axes, origin]).ravel())
    return f"union {{ {text} matrix <{m}> }}\n"


def flat_axes(angle_deg, tilt_rad=0.0):
    a = math.radians(angle_deg)
    x = np.array([math.cos(a) * math.cos(tilt_rad), math.sin(a) * math.cos(tilt_rad), math.sin(tilt_rad)])
    y = np.array([-math.sin(a), math.cos(a), 0.0])
    return np.array([x, y, np.cross(x, y)])


def bed(kind, size, honeycomb_file):
    """The surface is z = 0, less a hair so that printed marks lie in it."""
    w, h = size
    hair = -0.02
    if kind in ("plain", "dark"):
        return box((-600, -600, -5), (900, 900, hair), texture("grey" if kind == "plain" else "slate"))
    if kind == "slats":   # blades on edge over a dark tray
        text = box((-600, -600, -30), (900, 900, -18), texture("slate"))
        for i in range(int(-60 / 9), int((h + 60) / 9) + 1):
            y = 9.0 * i
            text += box((-40, y - 0.6, -18), (w + 40, y + 0.6, hair), texture("steel"))
        return text + box((-60, -70, -18), (-40, h + 70, 1), texture("grey")) + box((w + 40, -70, -18), (w + 60, h + 70, 1), texture("grey"))
    cell = 7.0
    return (f"plane {{ z, {hair} texture {{ pigment {{ image_map {{ png \"{honeycomb_file}\" gamma 1.0 interpolate 2 }} "
            f"scale <{cell * math.sqrt(3)}, {cell}, 1> }} finish {{ diffuse 0.8 }} }} }}\n")


def honeycomb_tile(px=96):
    """One period of a honeycomb seen from above, as linear grey: thin bright walls, dark cells. Height = the cell's width across."""
    w = int(round(px * math.sqrt(3)))
    x, y = np.meshgrid((np.arange(w) + 0.5) / w * math.sqrt(3), (np.arange(px) + 0.5) / px)
    near = np.full((9 * 2, px, w), 9.0)
    k = 0
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            for ox, oy in ((0.0, 0.0), (math.sqrt(3) / 2, 0.5)):
                near[k] = np.hypot(x - ox - i * math.sqrt(3), y - oy - j)
                k += 1
    near.sort(axis=0)
    wall = (near[1] - near[0] < 0.18).astype(float)
    # soft, as the honeycomb's rounded edges are; also spares the tracer from refining each of its thousand edges
    wall = cv2.GaussianBlur(np.tile(wall, (3, 3)), (0, 0), 0.065 * px)[px:2 * px, w:2 * w]
    return 0.018 + 0.19 * wall


def mark():
    """Centre at the origin, top at z = 0: black lower left and upper right, 8 mm fields, on 20 mm of white."""
    t = CHECK_LIFT
    return (box((-10, -10, -0.015), (10, 10, 0), texture("paper")) + box((-8, -8, -0.01), (0, 0, t), texture("ink")) +
            box((0, 0, -0.01), (8, 8, t), texture("ink")))


def board(columns, rows, square, margin):
    """Its frame: origin at the outer corner of the black corner square, printed face z = 0, 3 mm thick."""
    text = box((-margin, -margin, -3), (columns * square + margin, rows * square + margin, 0), texture("paper"))
    for i in range(columns):
        for j in range(rows):
            if (i + j) % 2 == 0:
                text += box((i * square, j * square, -0.01), ((i + 1) * square, (j + 1) * square, CHECK_LIFT), texture("ink"))
    return text


def groove(seat, blank, length, top):
    """What is cut from a jig for one slot; local x along the slot, local y across, z of the bed."""
    if "vee_bottom_mm" in seat:
        k = 1.0 / math.tan(math.radians(seat["vee_angle_deg"] / 2))
        b = seat["vee_bottom_mm"]
        n = math.hypot(k, 1.0)
        return (f"intersection {{ plane {{ {vec((0, k / n, -1 / n))}, {-b / n:.12g} }} plane {{ {vec((0, -k / n, -1 / n))}, {-b / n:.12g} }} "
                + box((-length / 2, -60, 0), (length / 2, 60, top + 1)) + "}\n")
    floor = seat["floor_mm"]
    kind = blank["kind"]
    if kind == "disc":
        return f"cylinder {{ <0,0,{floor}>, <0,0,{top + 1}>, {blank['diameter_mm'] / 2 + 2.5} }}\n"
    half = {"plate": blank.get("height_mm", 0) / 2 + 2.5}.get(kind, 10.0)
    return box((-length / 2, -half, floor), (length / 2, half, top + 1))


def profile_of(blank):
    if blank["kind"] == "round":
        return [(0.0, blank["diameter_mm"]), (blank["length_mm"], blank["diameter_mm"])]
    return [tuple(p) for p in blank["profile_mm"]]


def turned(profile, skins, clip=False):
    """Axis along local x, its middle at the origin. skins: one for the whole, or one for each stretch."""
    half = profile[-1][0] / 2
    text = ""
    for k, ((d0, w0), (d1, w1)) in enumerate(zip(profile, profile[1:])):
        skin = skins[min(k, len(skins) - 1)]
        text += f"cone {{ <{d0 - half},0,0>, {w0 / 2}, <{d1 - half},0,0>, {w1 / 2} {skin} }}\n"
    if clip:
        r = max(w for _, w in profile) / 2
        text += box((-half + 2, -1.3, r - 0.5), (-half + 38, 1.3, r + 1.6), texture("steel"))
    return text


def plate(blank, skin):
    """Middle of the top face at the origin."""
    w, h, t, r = blank["width_mm"] / 2, blank["height_mm"] / 2, blank["thickness_mm"], blank.get("corner_radius_mm", 0)
    if not r:
        return box((-w, -h, -t), (w, h, 0), skin)
    text = box((-w + r, -h, -t), (w - r, h, 0)) + box((-w, -h + r, -t), (w, h - r, 0))
    for sx in (-1, 1):
        for sy in (-1, 1):
            text += f"cylinder {{ <{sx * (w - r)},{sy * (h - r)},{-t}>, <{sx * (w - r)},{sy * (h - r)},0>, {r} }}\n"
    return f"union {{ {text} {skin} }}\n"


def disc(blank, skin):
    return f"cylinder {{ <0,0,{-blank['thickness_mm']}>, <0,0,0>, {blank['diameter_mm'] / 2} {skin} }}\n"
