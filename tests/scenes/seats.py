"""How a turned blank rests: the height and the tilt of its axis, from the geometry of a cone touching planes."""
import math


def carrying_stretch(profile):
    """The stretch of the profile's hull that lies under the blank's middle: two (distance, radius) points."""
    hull = []
    for t, d in profile:
        p = (t, d / 2)
        while len(hull) > 1 and ((hull[-1][0] - hull[-2][0]) * (p[1] - hull[-2][1])
                                 >= (p[0] - hull[-2][0]) * (hull[-1][1] - hull[-2][1])):
            hull.pop()
        hull.append(p)
    middle = profile[-1][0] / 2
    for a, b in zip(hull, hull[1:]):
        if a[0] <= middle <= b[0]:
            return a, b
    raise ValueError("no stretch under the middle")


def resting(profile, seat):
    """(height of the axis at the blank's middle, tilt in radians, rising towards the blank's end)."""
    (t0, r0), (t1, r1) = carrying_stretch(profile)
    cone = math.atan2(r1 - r0, t1 - t0)
    radius = r0 + (r1 - r0) * (profile[-1][0] / 2 - t0) / (t1 - t0)
    # A plane that touches a cone of half angle `cone` lies radius * cos(cone) from the axis point where the radius is `radius`.
    reach = radius * math.cos(cone)
    if "vee_bottom_mm" in seat:
        s = math.sin(math.radians(seat["vee_angle_deg"] / 2))
        return seat["vee_bottom_mm"] + reach / s, math.asin(math.sin(cone) / s)
    if "floor_mm" in seat:
        return seat["floor_mm"] + reach, cone
    return seat["axis_height_mm"], 0.0
