"""The moments of a shot that its storyboard shows: start, end, the tight places, the pan."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.light import camera
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.output.words import named, ranked

COUNT = 6
TIGHT = 2  # tight places at most
APART = 0.06  # of the shot between two moments
STILL_M = 0.02  # a sample counts as that much moved at least
PAN_SPAN = 11  # samples over which the pan is measured
PANS_RAD_S = 0.05  # slower is no pan


class Moment(NamedTuple):
    """A sample of the shot, and why it is shown: "" evenly between the others."""

    sample: int
    why: str


def moments(shot: ShotPlan) -> tuple[Moment, ...]:
    """Six of a shot in order of time (fewer of one that has fewer samples)."""
    track = shot.scene.track
    count = track.ride.t_s.size
    apart = max(1, round(APART * count))
    chosen = [Moment(0, "start")]
    if count > 1:
        chosen.append(Moment(count - 1, "end"))
    pan = camera.pan_rad_s(track.camera_azimuth_rad[0], STEP_S, PAN_SPAN)
    wanted = [(_tightest(f), f"tightest: {_what(shot, f)}{_measured(f)}") for f in _tight(shot)]
    if float(pan.max()) > PANS_RAD_S:
        most = int(pan.argmax())
        wanted.append((most, f"pans most: {np.degrees(pan[most]):.0f}°/s"))
    for sample, why in wanted:
        chosen = _with(chosen, sample, why, apart)
    way = _moved(shot)
    while len(chosen) < min(COUNT, count):
        chosen = sorted([*chosen, _between(chosen, way)])
    return tuple(sorted(chosen))


def _moved(shot: ShotPlan) -> Array:
    """`(n,)` how far rider and camera have moved, and a little for the time: where both stand
    still, pictures are alike."""
    track = shot.scene.track
    moves = sum(
        np.linalg.norm(np.diff(xyz[0], axis=0), axis=1) for xyz in (track.xyz_m, track.ride.xyz_m)
    )
    return np.concatenate([[0.0], np.cumsum(moves + STILL_M)])


def _tight(shot: ShotPlan) -> list[Finding]:
    """What decides first, and then what is not go; of one place only the first."""
    found: list[Finding] = []
    for one in ranked(shot):
        known = one.margins[np.isfinite(one.margins)]
        varies = one.of.nature.placed and known.size and float(known.min()) < float(known.max())
        if varies and (one.verdict != Verdict.GO or not found):
            found.append(one)
    near = round(APART * shot.scene.track.ride.t_s.size)
    kept: list[Finding] = []
    for one in found:
        if all(abs(_tightest(one) - _tightest(other)) > near for other in kept):
            kept.append(one)
    return kept[:TIGHT]


def _tightest(found: Finding) -> int:
    return int(np.nanargmin(np.where(np.isfinite(found.margins), found.margins, np.inf)))


def _what(shot: ShotPlan, found: Finding) -> str:
    """What it is about there: the thing by its name, else the question."""
    thing = found.thing_at(_tightest(found))
    if thing in ("", found.check):
        return found.of.told.name or found.of.question.rstrip("?")
    return "the ground" if thing == "ground" else named(shot.scene.site, thing)


def _measured(found: Finding) -> str:
    value = float(found.values[_tightest(found)])
    return f" {say.metres(value)}" if found.unit == "m" and np.isfinite(value) else ""


def _with(chosen: list[Moment], sample: int, why: str, apart: int) -> list[Moment]:
    """One more; where another is near, that one says this, too."""
    near = min(chosen, key=lambda m: abs(m.sample - sample))
    if abs(near.sample - sample) >= apart:
        return sorted([*chosen, Moment(sample, why)])
    rest = [m for m in chosen if m is not near]
    return sorted([*rest, Moment(near.sample, f"{near.why}; {why}")])


def _between(chosen: list[Moment], way: Array) -> Moment:
    """The middle of the widest gap on the way that has a sample in it."""
    at = sorted(m.sample for m in chosen)
    gaps = [(float(way[b] - way[a]) if b - a > 1 else -1.0, a, b) for a, b in pairwise(at)]
    _, low, high = max(gaps, key=lambda gap: gap[0])
    middle = int(np.searchsorted(way, 0.5 * (way[low] + way[high])))
    return Moment(min(max(middle, low + 1), high - 1), "")
