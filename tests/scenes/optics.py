"""Cameras of the recipe: where a bed point appears, which rays POV-Ray shall trace, and how a traced picture becomes a photo.

Bed frame: mm, right-handed, Z up. Camera frame: x right, y down, z forward. A pixel's centre lies at whole numbers.
The lenses are radial laws that are no polynomial in r or in the angle:
  division: r_u = r_d / (1 - l r_d^2)     (r: distance from the axis at unit focal length, u: pinhole, d: through the lens)
  tangent:  r_d = tan(k theta) / k        (theta: angle from the axis; k = 1 is a pinhole, k = 0.5 stereographic)
"""
import math
from dataclasses import dataclass, field

import cv2
import numpy as np

OVERSAMPLE = 1.5  # traced pixels per photo pixel, along a line


@dataclass
class Camera:
    name: str
    size: tuple           # photo, px
    focal: float          # px
    centre: tuple         # principal point, px
    law: str              # "division" or "tangent"
    strength: float       # l or k
    place: tuple          # bed frame, mm
    target: tuple         # the axis meets this bed point
    turn_deg: float       # of the picture about the axis; 0: picture's right is bed +X, as far as it can be
    vignetting: float = 0.25   # light lost in the corner
    rotation: np.ndarray = field(init=False)   # camera_from_bed

    def __post_init__(self):
        forward = unit(np.subtract(self.target, self.place))
        right = unit(np.cross(forward, np.cross([1.0, 0.0, 0.0], forward)))
        down = np.cross(forward, right)
        a = math.radians(self.turn_deg)
        self.rotation = np.array([right * math.cos(a) + down * math.sin(a), down * math.cos(a) - right * math.sin(a), forward])

    def theta_of(self, r_d):
        if self.law == "division":
            return np.arctan(r_d / (1.0 - self.strength * r_d ** 2))
        return np.arctan(self.strength * r_d) / self.strength

    def r_d_of(self, theta):
        if self.law == "tangent":
            return np.tan(self.strength * theta) / self.strength
        r_u = np.tan(theta)
        return 2.0 * r_u / (1.0 + np.sqrt(1.0 + 4.0 * self.strength * r_u ** 2))   # the root that goes to r_u as l goes to 0

    def project(self, points):
        """Bed points (n x 3) to photo positions (n x 2)."""
        p = (np.asarray(points, float) - self.place) @ self.rotation.T
        side = np.hypot(p[:, 0], p[:, 1])
        scale = self.r_d_of(np.arctan2(side, p[:, 2])) / np.maximum(side, 1e-12)
        return np.stack([self.focal * scale * p[:, 0] + self.centre[0], self.focal * scale * p[:, 1] + self.centre[1]], 1)

    def ray(self, px):
        """Unit vector in the bed frame from the lens to what is seen at a photo position."""
        x, y = (px[0] - self.centre[0]) / self.focal, (px[1] - self.centre[1]) / self.focal
        r = max(math.hypot(x, y), 1e-12)
        theta = float(self.theta_of(r))
        return np.array([math.sin(theta) * x / r, math.sin(theta) * y / r, math.cos(theta)]) @ self.rotation

    def angles(self):
        """For each photo pixel: the angle from the axis, and the direction around it (cos, sin)."""
        u, v = np.meshgrid(np.arange(self.size[0], dtype=float), np.arange(self.size[1], dtype=float))
        x, y = (u - self.centre[0]) / self.focal, (v - self.centre[1]) / self.focal
        r = np.maximum(np.hypot(x, y), 1e-12)
        return self.theta_of(r), x / r, y / r

    # The traced picture is a pinhole's (division) or an equidistant one (tangent, as a pinhole would be huge there).
    def traced_radius(self, theta):
        return np.tan(theta) if self.law == "division" else theta

    def traced(self):
        """Traced picture: size in px and px per unit of traced_radius. The axis pierces its middle."""
        theta, c, s = self.angles()
        scale = self.focal * OVERSAMPLE
        radius = self.traced_radius(theta)
        half = [float(np.max(np.abs(radius * k))) * scale + 4 for k in (c, s)]
        return tuple(int(math.ceil(h)) * 2 for h in half), scale

    def pov(self):
        (w, h), scale = self.traced()
        right, up, ahead = self.rotation[0], -self.rotation[1], self.rotation[2]
        if self.law == "division":
            return (f"camera {{ perspective location {vec(self.place)} direction {vec(ahead)} "
                    f"right {vec(right * (w / scale))} up {vec(up * (h / scale))} }}\n")
        # POV-Ray's fisheye: right and up give the picture's half sides as shares of the circle, whose edge sees angle / 2
        edge = math.hypot(w, h) / 2 / scale
        return (f"camera {{ fisheye location {vec(self.place)} direction {vec(ahead)} "
                f"right {vec(right * (w / 2 / scale / edge))} up {vec(up * (h / 2 / scale / edge))} "
                f"angle {math.degrees(2 * edge):.12g} }}\n")

    def develop(self, traced, exposure, rng, noise=1.0):
        """Linear light of the traced picture (float, 0 to 1) to an 8-bit photo: lens, vignetting, blur, noise, sRGB curve."""
        (w, h), scale = self.traced()
        # lens blur of 0.8 photo px; resampling adds little
        soft = cv2.GaussianBlur(traced, (0, 0), 0.8 * OVERSAMPLE)
        theta, c, s = self.angles()
        radius = self.traced_radius(theta) * scale
        at = [(radius * c + (w - 1) / 2).astype(np.float32), (radius * s + (h - 1) / 2).astype(np.float32)]
        light = cv2.remap(soft, at[0], at[1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        corner = np.max(theta)
        light *= (exposure * (1.0 - self.vignetting * (theta / corner) ** 2))[..., None].astype(np.float32)
        light = np.clip(light, 0.0, 1.2)
        if noise:   # photon noise and a floor, in linear light
            sigma = noise * np.sqrt(0.0016 ** 2 + 0.0002 * light)
            light = light + sigma * rng.standard_normal(light.shape).astype(np.float32)
        light = np.clip(light, 0.0, 1.0)
        coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        return np.clip(coded * 255.0 + 0.5, 0, 255).astype(np.uint8)


def unit(v):
    return np.asarray(v, float) / np.linalg.norm(v)


def vec(v):
    return "<" + ", ".join(f"{float(x):.12g}" for x in v) + ">"


# Over the bed's middle, half a metre up, turned by a little more than a right angle: the bed is 300 x 400 mm.
ATTIC = Camera("attic", (1600, 1200), 1600.0, (806.3, 588.4), "division", 0.15, (138.0, 182.0, 520.0), (150.0, 204.0, 0.0), 93.0)
# In the lid of a small machine: very wide, low, looking back over a bed of 300 x 300 mm.
NOOK = Camera("nook", (1600, 1200), 850.0, (792.0, 607.5), "tangent", 0.58, (158.0, 20.0, 250.0), (152.0, 128.0, 0.0), 0.8, 0.4)
CAMERAS = {c.name: c for c in (ATTIC, NOOK)}
