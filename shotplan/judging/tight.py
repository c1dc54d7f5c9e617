"""Tight places of a judged flight: before which the aircraft must stand if anybody calls."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from shotplan.judging.judged import Finding
from shotplan.judging.verdicts import worst_of
from shotplan.kernels.rides import by_place, runs
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.scene.scene import Scene

TIGHT_M = 5.0  # a hard margin below this is worth a mark
EVEN_M = 0.5  # a margin that changes less over the whole shot has no tightest place


class Tight(NamedTuple):
    """A sample of row 0 before which the aircraft must stand."""

    finding: Finding
    sample: int

    @property
    def thing(self) -> str:
        """What is near there, or else what decides the finding."""
        return self.finding.thing_at(self.sample) or self.finding.told.thing

    @property
    def words(self) -> str:
        """What is tight there: `oak (clearance)`."""
        check = self.finding.check
        return f"{self.thing} ({check})" if self.thing not in ("", check) else check


def tight_places(scene: Scene, findings: Sequence[Finding]) -> Iterator[Tight]:
    """Of every check that has places on the way: what is not go, and what is merely narrow."""
    for found in findings:
        if found.family == "picture" or not found.of.nature.placed:
            continue
        refused = [Tight(found, i) for i in _refused(scene, found)]
        yield from refused
        if found.family == "harm" and found.unit == "m":
            taken = {place.sample for place in refused}
            yield from (Tight(found, i) for i in _narrow(found, taken))


def _refused(scene: Scene, found: Finding) -> Iterator[int]:
    """A sample for each stretch of metres that is not go: of its worst parts the first that is
    broken or unknown, or where a caution is tightest."""
    doubt = ((found.least < 0.0) | np.isnan(found.least)).any(axis=0)
    few = (found.metre_codes == int(Verdict.UNKNOWN)) & ~doubt  # only too few rides to prove it
    codes = np.where(few, int(Verdict.GO), found.metre_codes)
    placed = found.family == "harm" and found.unit == "m"
    if not placed and (codes == codes[0]).all():
        return
    for low, high in runs.stretches(codes != int(Verdict.GO)):
        worst = codes[low:high] == codes[low:high].max()
        for first, last in runs.stretches(worst):
            sample = _decides(scene, found, low + first, low + last)
            if sample is not None:
                yield sample


def _decides(scene: Scene, found: Finding, low: int, high: int) -> int | None:
    """Row 0's sample that decides metres `low` to `high` (indices into `metre_codes`); where only
    other rides are not go, the one nearest to the metre where they are worst."""
    along = scene.track.ride.along_m[0]
    metres = by_place.metres(along)
    first, last = metres[low] - by_place.WITHIN_M, metres[high - 1] + by_place.WITHIN_M
    here = np.flatnonzero((along >= first) & (along <= last))
    codes = found.sample_codes[here]
    worst = here[codes == codes.max()]
    if codes.max() >= Verdict.UNKNOWN:
        return int(worst[0])
    if codes.max() == Verdict.CAUTION:
        return int(worst[_tightest(np.fmin(found.softs[worst], found.margins[worst])) or 0])
    metre = _tightest(worst_of(found.least[:, low:high].astype(float), axis=0))
    if metre is None:
        metre = _tightest(np.fmin.reduce(found.least_soft[:, low:high].astype(float)))
    return None if metre is None else int(np.abs(along - metres[low + metre]).argmin())


def _tightest(values: Array) -> int | None:
    """The deepest break, else the first that is not known, else the least; None if nothing is."""
    known = np.where(np.isnan(values), np.inf, values)
    if not (known < 0.0).any() and np.isnan(values).any():
        return int(np.argmax(np.isnan(values)))
    return int(np.argmin(known)) if np.isfinite(known).any() else None


def _narrow(found: Finding, taken: set[int]) -> Iterator[int]:
    """Where row 0 comes nearest to each thing to which its margin is small; where it first breaks
    it, if it does."""
    margin = np.where(np.isnan(found.margins), np.inf, found.margins)
    near = margin < TIGHT_M
    if near.all() and np.ptp(margin) < EVEN_M:
        return
    what = np.array(
        [t if n else None for t, n in zip(found.things, near, strict=True)], dtype=object
    )
    for low, high in runs.runs(what):
        if near[low] and not taken.intersection(range(low, high)):
            broken = margin[low:high] < 0.0
            yield low + int(np.argmax(broken) if broken.any() else np.argmin(margin[low:high]))
