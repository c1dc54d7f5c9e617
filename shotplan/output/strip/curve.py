"""What a check measured along a shot, as a curve with its limits: plain numbers for a strip."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.rides import by_place
from shotplan.model.arrays import Array
from shotplan.output import measures

EVEN = 0.03  # of a limit that varies less it is one number
ROOM = 0.8  # of the limit, that is shown beyond it on its good side


class Curve(NamedTuple):
    """`value (n,)` of the undisturbed ride at `along_m (n,)`, its hard `limit (n,)`, and the one
    for go alone, `soft` (NaN none of its own); `worst (k,)` of all rides at `metres (k,)`; NaN not
    known or nothing near. `unit` as it is read, `low` to `high` what is shown; `least`: more is
    better."""

    along_m: Array
    value: Array
    limit: Array
    soft: float
    metres: Array
    worst: Array
    unit: str
    low: float
    high: float
    least: bool


def curve(shot: ShotPlan, found: Finding) -> Curve | None:
    """None where its number is no number along the way: the same at every metre, or not known."""
    along = shot.scene.track.ride.along_m[0]
    rising = np.concatenate([[True], np.diff(along) > 1e-9])
    scale = 100.0 if found.unit.startswith("of ") else 1.0
    value, limit = (
        np.where(np.isfinite(a), a, np.nan) * scale for a in (found.values, found.limits)
    )
    if not (found.unit and found.of.nature.placed and np.isfinite(value + limit).sum() > 1):
        return None
    margin = np.where(np.isfinite(found.margins), found.margins, np.nan) * scale
    sign = _sign(value - limit, margin)
    if not sign:
        return None
    soft = value - sign * np.where(np.isfinite(found.softs), found.softs, np.nan) * scale
    own = float(np.nanmedian(soft)) if np.isfinite(soft).any() else np.nan
    if not np.nanmax(np.abs(np.append(soft - own, 0.0))) <= EVEN * abs(own):
        own = np.nan
    metres = by_place.metres(along)
    least = np.where(np.isfinite(found.least), found.least, np.nan).astype(float)
    with np.errstate(all="ignore"):
        least = np.fmin.reduce(least, axis=0) * scale
    there = np.isfinite(limit)
    ends = np.interp(metres, along[there], limit[there])
    low, high = _shown(value, limit, ends + sign * least, own, sign)
    unit = "%" if scale > 1.0 else found.unit
    return Curve(along[rising], value[rising], limit[rising], own, metres, ends + sign * least,
                 unit, low, high, sign > 0.0)  # fmt: skip


def _sign(over: Array, margin: Array) -> float:
    """Whether its margin is its number over the limit (1), under it (-1) or another thing (0)."""
    known = np.isfinite(over + margin)
    for sign in (1.0, -1.0):
        if known.any() and np.allclose(margin[known], sign * over[known], atol=0.05):
            return sign
    return 0.0


def _shown(
    value: Array, limit: Array, worst: Array, soft: float, sign: float
) -> tuple[float, float]:
    """The limit with what lies beyond it whole, and as much on its good side as tells something."""
    edges = [float(np.nanmin(limit)), float(np.nanmax(limit))]
    edges += [soft] if np.isfinite(soft) else []
    every = np.append(value, worst)
    bad = float(np.nanmin(sign * every)) * sign
    good = float(np.nanmax(sign * value)) * sign
    reach = max(ROOM * max(abs(e) for e in edges), 1.5 * abs(bad - edges[0]), 1e-3)
    far = (max(edges) if sign > 0.0 else min(edges)) + sign * reach
    good = min(good, far) if sign > 0.0 else max(good, far)
    low, high = min(*edges, bad, good), max(*edges, bad, good)
    spare = 0.12 * max(high - low, 1e-3)
    return low - spare, high + spare


def unit_line(found: Finding, drawn: Curve) -> str:
    """`m; needs 3.7`, `m/s; at most 10, for go 8`."""
    low, high = float(np.nanmin(drawn.limit)), float(np.nanmax(drawn.limit))
    even = high - low <= EVEN * max(abs(high), 1e-9)
    limit = _short(high) if even else f"{_short(low)} to {_short(high)}"
    unit = f"% {found.unit}" if drawn.unit == "%" else found.unit
    said = f"{unit}; {measures.side(found)} {limit}"
    apart = np.isfinite(drawn.soft) and abs(drawn.soft - high) > EVEN * max(abs(high), 1e-9)
    return said + (f", for go {_short(drawn.soft)}" if apart else "")


def _short(value: float) -> str:
    """`8`, `3.7`."""
    return f"{value:.1f}".removesuffix(".0")
