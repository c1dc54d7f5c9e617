"""What a search for a style tries: every style with every side, distance and height that makes
sense on a site.

Fly-by, rise and pull-back are left out: they are of one moment, with a beginning and an end of
their own, and cut into stretches they would be something else.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from itertools import product
from typing import Any, cast

import numpy as np

from shotplan.advice.wanted import Wanted
from shotplan.kernels.motion.setpoints import AIM_M, unit
from shotplan.model.aircraft import Aircraft
from shotplan.model.flight import Style
from shotplan.outing import Outing
from shotplan.ride.along import SLOPE_M, downhill_rad
from shotplan.styles import STYLES

KINDS: dict[str, Any] = {style.name: style for style in STYLES}
TURNS = ("clockwise", "anticlockwise")
SLOPES = ("downhill", "uphill")

FARTHER_M, HIGHER_M, SLOWER = 3.0, 2.0, 0.25  # of one step of a ladder; own choice
FAR = ("distance_m", "to_distance_m", "radius_m")
HIGH = ("height_m", "to_height_m")
SLOW = ("speed_m_s",)


def candidates(outing: Outing, wanted: Wanted) -> tuple[Style, ...]:
    """The candidates in a fixed order, at most `wanted.most`.

    Heights are over the rider (over the ground of a place), as an aircraft keeps them that knows
    no terrain. Left out are what the camera cannot tilt down to, uphill and downhill where the
    ride's ground does not slope, and places far from the ride or where somebody of the crew
    stands. Of a style that is not listed in `STYLES` there is none.
    """
    sides = wanted.sides
    if not _slopes(outing, wanted.slope_least):
        sides = tuple(side for side in sides if side not in SLOPES)
    near = _places_near(outing, wanted.place_within_m)
    offers = {
        "follow-behind": _at(wanted.behind_m, wanted.heights_m),
        "lead": _at(wanted.behind_m, wanted.heights_m),
        "side-track": [
            {"side": side, **where}
            for side, where in product(sides, _at(wanted.side_m, wanted.heights_m))
        ],
        "top-down": [{"height_m": height} for height in wanted.top_down_m],
        "orbit": list(_orbits(wanted, ("rider", *near))),
        "hold": [
            {"at": place, "height_m": height}
            for place, height in product(near, wanted.hold_heights_m)
        ],
    }
    found = [
        cast(Style, KINDS[name](**keys))
        for name, offered in offers.items()
        if name in wanted.styles and name in KINDS
        for keys in offered
        if _tilts(outing.aircraft, name, keys)
    ]
    return tuple(_thinned(list(dict.fromkeys(found)), wanted.most))


def label(style: Style) -> str:
    """In few words, all its numbers: `side-track left 12 m, 6 m up`."""
    says: Any = style
    up = f"{getattr(style, 'height_m', 0.0):g} m up"
    if getattr(style, "height_over", "rider") != "rider":
        up += f" over {says.height_over}"
    match style.name:
        case "follow-behind" | "lead":
            return f"{style.name} {says.distance_m:g} m, {up}"
        case "side-track":
            return f"{style.name} {_side(says.side)} {says.distance_m:g} m, {up}"
        case "top-down":
            return f"{style.name} {up}"
        case "orbit":
            centre = "the rider" if says.around == "rider" else says.around
            return (
                f"{style.name} {centre} {says.direction} {says.radius_m:g} m, {up}, "
                f"{says.speed_m_s:g} m/s"
            )
        case "hold":
            return f"{style.name} {says.at}, {up}"
    return style.words()


def group(style: Style) -> str:
    """Style and side, a row of the strip: `side-track, left`; `orbit, the rider`."""
    says: Any = style
    match style.name:
        case "side-track":
            return f"{style.name}, {_side(says.side)}"
        case "orbit":
            return f"{style.name}, {'the rider' if says.around == 'rider' else says.around}"
        case "hold" | "rise":
            return f"{style.name}, {says.at}"
        case "fly-by" | "pull-back":
            return f"{style.name}, {says.side}"
    return style.name


def easier(style: Style, step: int) -> tuple[Style, ...]:
    """The same style `step` steps easier, the least changed first: farther; higher; both. What
    has a speed is slower in each of them. Side, place, direction stay."""
    says: Any = style
    has = {f.name for f in fields(says)}

    def changed(names: tuple[str, ...], more: float, times: float = 1.0) -> dict[str, float]:
        given = {name: getattr(says, name) for name in names if name in has}
        return {name: round(v * times + more, 1) for name, v in given.items() if v is not None}

    far = changed(FAR, step * FARTHER_M)
    high = changed(HIGH, step * HIGHER_M)
    slow = changed(SLOW, 0.0, 1.0 / (1.0 + step * SLOWER))
    ways = [way for way in (far, high, {**far, **high}) if way]
    made = (cast(Style, replace(says, **way, **slow)) for way in ways)
    return tuple(dict.fromkeys(made))


def _side(side: str) -> str:
    """`toward:cairn` -> `toward cairn`."""
    return side.replace(":", " ", 1)


def _at(distances_m: Sequence[float], heights_m: Sequence[float]) -> list[dict[str, Any]]:
    return [{"distance_m": d, "height_m": h} for d, h in product(distances_m, heights_m)]


def _orbits(wanted: Wanted, centres: tuple[str, ...]) -> Iterator[dict[str, Any]]:
    """Round a place the camera stays on the rider, who is what is filmed."""
    for centre, radius, height, speed, turn in product(
        centres, wanted.orbit_m, wanted.orbit_heights_m, wanted.orbit_m_s, TURNS
    ):
        yield {
            "around": centre,
            "radius_m": radius,
            "height_m": height,
            "speed_m_s": speed,
            "direction": turn,
            "aim": "rider",
        }


def _tilts(aircraft: Aircraft, name: str, keys: dict[str, Any]) -> bool:
    """Whether the camera can look down to the rider from there. From over a place it may."""
    lowest = aircraft.camera.tilt_min_rad
    if name == "top-down":
        return math.isclose(lowest, -math.pi / 2.0)
    if "at" in keys or keys.get("around", "rider") != "rider":
        return True
    out = keys.get("distance_m", keys.get("radius_m"))
    return math.atan2(AIM_M - keys["height_m"], cast(float, out)) >= lowest


def _slopes(outing: Outing, least: float) -> bool:
    """Whether the ground under the ride falls one way by at least so much, in the mean."""
    ground_m = outing.site.terrain.ground_m
    downhill = downhill_rad(outing.ride, ground_m)
    if math.isnan(downhill):
        return False
    xy = outing.ride.xyz_m[0, :, :2]
    way = SLOPE_M * unit(np.array(downhill))
    fall = (ground_m(xy - way) - ground_m(xy + way)) / (2.0 * SLOPE_M)
    return bool(fall[np.isfinite(fall)].mean() >= least) if np.isfinite(fall).any() else False


def _places_near(outing: Outing, within_m: float) -> tuple[str, ...]:
    """Ids of the places near the ride where nobody of the crew stands in any shot."""
    stood = {p.stands for p in outing.day.crew}
    stood |= {shot.stands.place_of(p) for shot in outing.shots for p in outing.day.crew}
    xy = outing.ride.xyz_m[0, :, :2]
    return tuple(
        name
        for name, place in outing.site.places.items()
        if name not in stood and float(np.hypot(*(xy - place.xyz_m[:2]).T).min()) <= within_m
    )


def _thinned(found: list[Style], most: int) -> list[Style]:
    """At most `most`, spread evenly over each group; every group keeps its share, and one at
    least while there is room."""
    groups: dict[str, list[Style]] = {}
    for style in found:
        groups.setdefault(group(style), []).append(style)
    # One of each group in turn, then one more of the group that has the least share so far.
    turns = sorted((k / len(own), name) for name, own in groups.items() for k in range(len(own)))
    kept = Counter(name for _, name in turns[:most])
    return [
        own[(2 * k + 1) * len(own) // (2 * kept[name])]
        for name, own in groups.items()
        for k in range(kept[name])
    ]
