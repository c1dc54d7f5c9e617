"""What a search for a style tries: what every style offers that makes sense on a site."""

from __future__ import annotations

import math
from collections import Counter

import numpy as np

from shotplan.advice.wanted import Wanted
from shotplan.flying import stage_of
from shotplan.kernels.motion.setpoints import unit
from shotplan.model.flight import Stage, Style
from shotplan.model.search import Search
from shotplan.outing import Outing
from shotplan.ride.along import SLOPE_M
from shotplan.styles import listed as listed_styles

EXACT_RAD = 1e-9  # a tilt is told from one that is a rounding off


def candidates(outing: Outing, wanted: Wanted) -> tuple[Style, ...]:
    """The candidates in a fixed order, at most `wanted.most`.

    Heights are over the rider (over the ground of a place), as an aircraft keeps them that knows
    no terrain. Left out are what the camera cannot tilt down to, uphill and downhill where the
    ride's ground does not slope, and places far from the ride or where somebody of the crew
    stands.
    """
    stage = stage_of(outing.site, outing.ride)
    search = Search(
        tries=wanted,
        places=_places_near(outing, wanted.place_within_m),
        slopes=_slopes(outing, stage, wanted.slope_least),
    )
    found = [
        style
        for kind in listed_styles().values()
        if kind.name in wanted.styles
        for style in kind.candidates(search)
        if _tilts(style, outing, stage)
    ]
    return tuple(_thinned(list(dict.fromkeys(found)), wanted.most))


def _tilts(style: Style, outing: Outing, stage: Stage) -> bool:
    """Whether the camera can look down to the rider from there. From over a place it may."""
    wish = style.place(outing.ride, stage)
    east, north, up = np.moveaxis(wish.aim_xyz_m - wish.camera_xyz_m, -1, 0)
    looks = np.arctan2(up, np.hypot(east, north))
    too_steep = looks < outing.aircraft.camera.tilt_min_rad - EXACT_RAD
    return not (wish.follows_rider and too_steep.all())


def _slopes(outing: Outing, stage: Stage, least: float) -> bool:
    """Whether the ground under the ride falls one way by at least so much, in the mean."""
    if math.isnan(stage.downhill_rad):
        return False
    xy = outing.ride.xyz_m[0, :, :2]
    way = SLOPE_M * unit(np.array(stage.downhill_rad))
    fall = (stage.ground_m(xy - way) - stage.ground_m(xy + way)) / (2.0 * SLOPE_M)
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
        groups.setdefault(style.group(), []).append(style)
    # One of each group in turn, then one more of the group that has the least share so far.
    turns = sorted((k / len(own), name) for name, own in groups.items() for k in range(len(own)))
    kept = Counter(name for _, name in turns[:most])
    return [
        own[(2 * k + 1) * len(own) // (2 * kept[name])]
        for name, own in groups.items()
        for k in range(kept[name])
    ]
