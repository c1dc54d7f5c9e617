"""North as an arrow, the wind as a barb: for the live map and the still one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from html import escape
from typing import NamedTuple

LONG_M_S, SHORT_M_S = 5.0, 2.5  # what a long and a short stroke stand for; 10 and 5 knots
STAFF, LONG, SHORT, STEP = 30.0, 13.0, 7.0, 6.0
RING = 4.0
NORTH = "M0 -13L7 7L0 2.5L-7 7Z"  # an arrowhead; "N" stands under it


class Stroke(NamedTuple):
    """A line of a barb, from a point to a point, right and down of the barb's middle."""

    start: tuple[float, float]
    end: tuple[float, float]


def strokes(from_deg: float, speed_m_s: float) -> Iterator[Stroke]:
    """A barb around its middle: a staff from the ring to where the wind comes from, with a stroke
    for each 5 m/s and a shorter one for 2.5 at that end."""
    turn = math.radians(from_deg)
    out = math.sin(turn), -math.cos(turn)
    side = -out[1], out[0]  # clockwise of the staff

    def at(along: float, aside: float = 0.0) -> tuple[float, float]:
        x, y = (out[k] * (along - STAFF / 2.0) + side[k] * aside for k in (0, 1))
        return x, y

    halves = round(speed_m_s / SHORT_M_S)
    lengths = [LONG] * (halves // 2) + [SHORT] * (halves % 2)
    first = STAFF - STEP if lengths == [SHORT] else STAFF  # a short one alone is not at the end
    yield Stroke(at(RING), at(STAFF))
    for k, long in enumerate(lengths):
        yield Stroke(at(first - k * STEP), at(first - k * STEP + 0.35 * long, long))


def barb(from_deg: float, speed_m_s: float) -> str:
    """Its path."""
    return "".join(
        f"M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}" for a, b in strokes(from_deg, speed_m_s)
    )


def ring(from_deg: float) -> tuple[float, float]:
    """The middle of the barb's ring: where the wind is meant."""
    turn = math.radians(from_deg)
    return -math.sin(turn) * STAFF / 2.0, math.cos(turn) * STAFF / 2.0


def html(says: str, from_deg: float | None, speed_m_s: float) -> str:
    """Both, in the corner of the live map; the wind in words beside its barb."""
    north = f'<svg viewBox="-16 -16 32 36" aria-hidden="true"><path class="tip" d="{NORTH}"/>'
    north += '<text y="19" text-anchor="middle">N</text></svg>'
    wind = ""
    if from_deg is not None:
        x, y = ring(from_deg)
        wind = (
            '<svg id="wind" viewBox="-24 -24 48 48" aria-hidden="true">'
            f'<path d="{barb(from_deg, speed_m_s)}"/><circle cx="{x:.1f}" cy="{y:.1f}" '
            f'r="{RING:g}"/></svg>'
        )
    return (
        f'<div id="air"><p title="north">{north}</p><p>{wind}<span>{escape(says)}</span></p></div>'
    )
