"""Where a watcher's panorama lies on the page, and the names of what is to be seen in it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from shotplan.aids.skyline import Kind, nearest_turn, toward
from shotplan.output import look
from shotplan.output.lettering import SMALL
from shotplan.output.paper import lanes, write
from shotplan.output.watch.view import Looked
from shotplan.output.words import plain

LANE = 12.0
LANES = 2
HIDDEN_M = 1.5  # a place so much behind what is seen there is hidden


class Frame(NamedTuple):
    """Where the panorama lies on the page, and its scale in pixels per radian."""

    left: float
    top: float
    right: float
    bottom: float
    west_rad: float
    high_rad: float
    per_rad: float

    def x(self, azimuth_rad: Any) -> Any:
        """Across the page."""
        return self.left + (azimuth_rad - self.west_rad) * self.per_rad

    def y(self, elevation_rad: Any) -> Any:
        """Down the page."""
        return self.top + (self.high_rad - elevation_rad) * self.per_rad


def frame_at(one: Looked, left: float, top: float, across: float) -> Frame:
    """The panorama `across` pixels wide, under its lanes of names."""
    azimuth, elevation = one.around.azimuth_rad, one.around.elevation_rad
    step = float(azimuth[1] - azimuth[0])
    per_rad = across / (step * len(azimuth))
    high = float(elevation[0]) + 0.5 * float(elevation[0] - elevation[1])
    deep = per_rad * float(elevation[0] - elevation[1]) * len(elevation)
    top += (LANES * LANE if any(named(one)) else 0.0) + 4.0
    west = float(azimuth[0]) - 0.5 * step
    return Frame(left, top, left + across, top + deep, west, high, per_rad)


class _Name(NamedTuple):
    """Something to find in the landscape: a name, where it is, how much it is worth."""

    text: str
    azimuth_rad: float
    elevation_rad: float
    worth: float
    point: bool


def draw_names(axes: Any, at: Frame, one: Looked) -> None:
    """In lanes over the picture, what is worth most first, each with a line down to it."""
    names = sorted(named(one), key=lambda n: (-n.worth, n.text))
    for laned in lanes(
        ((n.text, at.x(n.azimuth_rad)) for n in names), (at.left, at.right),
        most=0.36 * (at.right - at.left), order=range(LANES - 1, -1, -1),
    ):  # fmt: skip
        name = names[laned.number]
        x, y = at.x(name.azimuth_rad), at.y(name.elevation_rad)
        spot = at.top - (LANES - laned.lane - 0.5) * LANE - 2.0
        write(axes, laned.left, spot, laned.text, size=SMALL)
        axes.plot([x, x], [spot + 6.0, y], color=look.INK, linewidth=0.6, zorder=2.6)
        if name.point:
            axes.plot([x], [y], "D", color="white", markersize=5.0, zorder=2.8,
                      markeredgecolor=look.INK, markeredgewidth=1.0)  # fmt: skip


def named(one: Looked) -> Iterator[_Name]:
    """Things with a name that are seen, then other woods and buildings; places and who stands
    there."""
    seen, site = one.around, one.shot.scene.site
    for k in np.unique(seen.thing[seen.thing >= 0]).tolist():
        thing = site.obstacles.things[k]
        mine = seen.thing == k
        known = thing.name or not any(c.isdigit() for c in thing.id)
        if not known and thing.role not in ("wood", "building"):
            continue
        col = int(np.round(np.median(np.nonzero(mine)[1])))
        col = col if mine[:, col].any() else int(np.argmax(mine.any(axis=0)))
        row = int(np.argmax(mine[:, col]))
        worth = math.sqrt(float(mine.sum())) + (40.0 if thing.name else 0.0)
        text = plain(thing.label) if known else thing.role
        yield _Name(
            text, float(seen.azimuth_rad[col]), float(seen.elevation_rad[row]), worth, False
        )
    for place in site.places.values():
        if not np.isfinite(place.xyz_m).all() or plain(place.label) == one.place:
            continue
        azimuth, elevation = (float(v) for v in toward(seen.eye_m, place.xyz_m))
        azimuth = float(nearest_turn(np.array([azimuth]), float(seen.azimuth_rad.mean()))[0])
        a = int(np.searchsorted(seen.azimuth_rad, azimuth))
        e = int(np.searchsorted(-seen.elevation_rad, -elevation))
        level = float(np.hypot(*(place.xyz_m - seen.eye_m)[:2]))
        if not (0 < a < len(seen.azimuth_rad) and 0 < e < len(seen.elevation_rad)) or level < 1.0:
            continue
        if seen.away_m[max(e - 2, 0), a] < level - HIDDEN_M and seen.kind[e - 1, a] > Kind.WATER:
            continue
        there = [p.name for p in one.shot.scene.day.crew
                 if p != one.person and one.shot.scene.stand_of(p) == place]  # fmt: skip
        who = f" ({', '.join(plain(n) for n in there)})" if there else ""
        yield _Name(f"{plain(place.label)}{who}", azimuth, elevation, 60.0, True)
