"""Where the crew stands and it is launched, and what can happen to people there."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.kernels.ground import standing
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.site import Place
from shotplan.scene.margin import Words
from shotplan.scene.scene import Scene

DROP_M, FALL_M = 5.0, 3.0  # this far from ground that much lower
FACE_M, LEAST_FACE_M = 100.0, 3.0  # how far faces are looked for, and from what height
KNOWN_M = 30.0  # ground that must be known around a stand
LINE_M = 3.0  # from the ride line
UNDER_WIRE_M = 1.0
STAND_SOURCE = (
    "common practice: 5 m from a drop, no nearer to a face than it is high, not under wires and "
    "no nearer to them than they are high, 3 m from the ride line"
)


class Spot(NamedTuple):
    """Where somebody stands, or the launch. `who` as it is said."""

    who: str
    place: Place


class Found(NamedTuple):
    """One hazard at one spot: level distance, what is wanted, whether coming nearer is refused
    (else a caution), and its words. NaN value: not known."""

    value_m: float
    limit_m: float
    refused: bool
    thing: str
    words: Words


def spots(scene: Scene) -> list[Spot]:
    """The launch, and every place where somebody of the crew stands in this shot."""
    names: dict[str, list[str]] = {"launch": []} if scene.site.launch else {}
    for person in scene.day.crew:
        place = scene.stand_of(person)
        if place is not None and "rider" not in person.roles:
            names.setdefault(place.id, []).append(person.name)
    return [
        Spot(f"{' and '.join(who)} at {place.label}" if who else place.label, place)
        for id_, who in names.items()
        for place in [scene.site.places[id_]]
    ]


def _around(scene: Scene, spot: Spot, radii: Array) -> Array:
    points = standing.rays(spot.place.xyz_m[:2], radii)
    return np.asarray(scene.site.terrain.ground_m(points))


def _not_known(spot: Spot, limit: float, refused: bool) -> Found:
    return Found(
        np.nan,
        limit,
        refused,
        spot.who,
        Words(
            f"the ground around {spot.who} is not known",
            f"give terrain that covers {KNOWN_M:.0f} m around it; go if nothing there falls or "
            "rises steeply",
        ),
    )


def _drop(scene: Scene, spot: Spot) -> Found:
    """Ground that falls away."""
    here = float(spot.place.xyz_m[2])
    radii = np.arange(0.25, 4.0 * DROP_M + 0.1, 0.25)
    around = _around(scene, spot, radii)
    away = standing.drop_m(here, around, radii, FALL_M)
    hidden = np.isnan(around[:, radii <= DROP_M]).any()
    if np.isnan(here) or (hidden and away >= DROP_M):
        return _not_known(spot, DROP_M, False)
    return Found(
        away,
        DROP_M,
        False,
        spot.who,
        Words(
            f"{spot.who}: {say.metres(away)} from ground more than {FALL_M:.0f} m lower",
            f"step {say.metres(say.rounded_up(max(DROP_M - away, 0.0)))} back from the edge",
        ),
    )


def _face(scene: Scene, spot: Spot) -> Found:
    """The foot of a face, from which stones fall."""
    cell = scene.site.terrain.cell_m
    step = float(np.clip(cell, 1.0, 25.0)) if np.isfinite(cell) else 25.0
    radii = np.arange(0.0, FACE_M + step, step)
    around = _around(scene, spot, radii)
    if np.isnan(around[:, radii <= KNOWN_M]).any():
        return _not_known(spot, LEAST_FACE_M, False)
    foot, high = standing.face(around, radii)
    if high < LEAST_FACE_M:
        foot, high = np.inf, 0.0
    return Found(
        foot,
        high,
        False,
        spot.who,
        Words(
            f"{spot.who}: {say.metres(foot)} from the foot of a face {say.metres(high)} high",
            f"stand {say.metres(say.rounded_up(max(high - foot, 0.0)))} farther from it: stones "
            "come down",
        ),
    )


def _wires(scene: Scene, spot: Spot) -> Found:
    """Wires overhead, or within their height."""
    obstacles = scene.site.obstacles
    here = np.array(spot.place.xyz_m, dtype=float)[None]
    if not scene.site.looked(here[:, :2], ("wires",))[0]:
        return Found(
            np.nan,
            UNDER_WIRE_M,
            True,
            spot.who,
            Words(
                f"nobody looked for wires where {spot.who} is",
                "look, and draw a surveyed area round it; go if no wire is nearer than it is high",
            ),
        )
    here = np.nan_to_num(here)
    near = obstacles.wires_grown.nearest(here)
    k, away = int(near.thing[0]), float(near.distance_m[0])
    if float(obstacles.wires_grown.doubt_m(here)[0]) <= 0.0:
        text = f"{spot.who}: near a wire whose height is not known"
        cure = "measure the wire's height_m; go if the place is farther from it than it is high"
        return Found(np.nan, UNDER_WIRE_M, True, spot.who, Words(text, cure))
    if k < 0:
        return Found(np.inf, UNDER_WIRE_M, True, spot.who, Words("", ""))
    wire = obstacles.things[k]
    high = wire.height_m if np.isfinite(wire.height_m) else KNOWN_M
    under = away < UNDER_WIRE_M
    reason = (
        f"{spot.who}: under {wire.label}"
        if under
        else f"{spot.who}: {say.metres(away)} from {wire.label}, which is {say.metres(high)} high"
    )
    more = say.metres(say.rounded_up(max(high - away, 0.0)))
    return Found(
        away,
        UNDER_WIRE_M if under else high,
        under,
        wire.id,
        Words(reason, f"stand {more} farther from {wire.label}"),
    )


def _line(scene: Scene, spot: Spot) -> Found:
    """The rider's own path."""
    way = scene.track.ride.xyz_m[0, :, :2] - spot.place.xyz_m[:2]
    away = float(np.hypot(way[:, 0], way[:, 1]).min())
    return Found(
        away,
        LINE_M,
        True,
        spot.who,
        Words(
            f"{spot.who}: {say.metres(away)} from the line ridden",
            f"move {say.metres(say.rounded_up(max(LINE_M - away, 0.0)))} aside",
        ),
    )


HAZARDS = (_drop, _face, _wires, _line)
