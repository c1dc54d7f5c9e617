"""What another wind than the forecast's makes of a shot that was planned: the worst word over a
sector of directions, for any mean up to one and any gust up to another.

Only what the wind decides is asked again, of the undisturbed flight: whether it keeps the line it
was planned on, pace, wind, battery and fall. As long as no airspeed is cut the wind does not move
the undisturbed flight, so everything else stays what the plan says; where one is cut it flies
another line than was judged, and the word is no-go.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.model.arrays import Array
from shotplan.model.disturbance import Disturbance
from shotplan.model.scene import Scene

Codes = NDArray[np.int8]

SIDES = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW",
    "NNW",
)  # fmt: skip
HEADINGS = 32  # asked: the middle and both edges of every sector
MEANS_M_S = np.arange(15.0)
GUSTS_M_S = np.arange(22.0)
SPARE_M_S = 0.1  # of the airspeed, so that nothing is cut between two samples either
SWINGS_BACK = 0.2  # of its speed, when the rider brakes: 0.14 for a set point that stops at once
FASTER = 1.15  # a disturbed rider, two spreads of his speed
PUSHED, PUSHED_TOO_FAR = 1.0, 1.25  # over what the disturbed rides were pushed: own settings
EVERY = 5  # samples of the flight between two that are let fall
ROOM_M = 2.0  # a landing nearer than this to somebody is one on them
BATTERY_STEP_M_S = 2.0
FALL_STEP_M_S = 2.0


class Winds(NamedTuple):
    """`open`, `hand (16, 15, 22)`: verdict codes by `SIDES`, `MEANS_M_S` and `GUSTS_M_S`, each of
    any wind up to there: of a mean 10 m up over open ground, as a forecast gives it, and of a
    reading in the hand, 2 m up at the launch (all unknown where there is none)."""

    open: Codes
    hand: Codes


def winds(scene: Scene, said: Disturbance, rides: int) -> Winds:
    """The table of one shot: `scene` its undisturbed flight, `rides` how many were flown."""
    means, gusts = (a / math.cos(math.pi / HEADINGS) for a in (MEANS_M_S, GUSTS_M_S))
    asked = _Asked(scene, said, rides)
    return Winds(_table(asked, "open", means, gusts), _table(asked, "hand", means, gusts))


def _table(asked: _Asked, kind: str, means: Array, gusts: Array) -> Codes:
    """By heading first; a sector takes the worst of its middle and its edges, an entry that of
    everything up to it."""
    by_heading = np.stack([asked.codes(kind, k, means, gusts) for k in range(HEADINGS)])
    middle = np.arange(0, HEADINGS, 2)
    codes = np.maximum.reduce([by_heading[(middle + k) % HEADINGS] for k in (-1, 0, 1)])
    codes = np.maximum(codes, asked.falls(codes)) if kind == "open" else codes
    return np.maximum.accumulate(np.maximum.accumulate(codes, axis=1), axis=2).astype(np.int8)
