"""From margins to findings, from findings to verdicts and stretches (DEFINITIONS, last section).

Everything here works on margins whatever they measure, so a check that is written later is
judged, placed on the map and cut into stretches by the same lines.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels import by_place, shares
from shotplan.model.arrays import Array, Bools
from shotplan.model.judged import Check, Finding, Margin, Remark, Spot, Stretch, Words
from shotplan.model.scene import Scene
from shotplan.model.verdict import Family, Verdict, worst


def spot(scene: Scene, sample: int) -> Spot:
    """Where and when a sample of row 0 is."""
    track = scene.track
    x, y, z = (float(v) for v in track.xyz_m[0, sample])
    return Spot(
        sample,
        float(track.ride.t_s[sample]),
        float(track.ride.along_m[0, sample]),
        (x, y, z),
        float(scene.height_above_launch_m[0, sample]),
        float(scene.height_m[0, sample]),
        float(scene.surface_m[sample]),
    )


def sample_verdicts(family: Family, margin: Array, soft: Array) -> NDArray[np.int8]:
    """Verdict codes of margins of any shape: broken, unknown, softly broken, sound."""
    broken = Verdict.CAUTION if family == "picture" else Verdict.NO_GO
    code = np.where(soft < 0.0, int(Verdict.CAUTION), int(Verdict.GO))
    code = np.where(np.isnan(margin), int(Verdict.UNKNOWN), code)
    return np.where(margin < 0.0, int(broken), code).astype(np.int8)


def over_rides(
    family: Family, broken: Bools, unknown: Bools, softly: Bools, share: float
) -> Verdict:
    """One verdict from `(r,)` flags of rides; row 0 is the undisturbed one."""
    rides = len(broken)
    no = Verdict.CAUTION if family == "picture" else Verdict.NO_GO
    if broken[0]:
        return no
    if unknown[0]:
        return Verdict.UNKNOWN
    count = int(broken.sum())
    if count and count / rides > share:
        return no
    if rides > 1 and unknown.any():
        return Verdict.UNKNOWN
    if family == "harm" and rides > 1 and shares.upper_bound(count, rides) > share:
        return Verdict.UNKNOWN
    return Verdict.CAUTION if count or softly.any() else Verdict.GO


def find(check: Check, scene: Scene, margins: Sequence[Margin], known: Bools) -> Finding:
    """One finding from what a check returned; `known (r,n)` False makes every margin unknown."""
    ride = scene.track.ride
    metres = by_place.metres(ride.along_m[0])
    judged = [_judge(check, scene, m, known, metres) for m in margins]
    verdict = worst(j.verdict for j in judged)
    first = min(
        (j for j in judged if j.verdict == verdict), key=lambda j: (j.tightness, judged.index(j))
    )
    words = first.words()
    remarks = (*_second_reasons(judged, first), *(r for m in margins for r in m.remarks))
    wary = [r for r in remarks if r.caution]
    if wary and verdict == Verdict.GO:
        verdict = Verdict.CAUTION
        words = Words("; ".join(r.text for r in wary), "; ".join(r.advice for r in wary))
    index = first.sample
    value, limit, margin = first.numbers()
    pick = np.argmin(np.stack([_rank(j.margin[0], j.soft[0]) for j in judged]), axis=0)

    def chosen(rows: Sequence[NDArray[np.generic]]) -> NDArray[np.generic]:
        return np.asarray(np.choose(pick, [np.asarray(r) for r in rows]))

    things = np.array([margins[p].thing[i] for i, p in enumerate(pick)], dtype=object)
    least = _worst_of([j.least for j in judged])
    with np.errstate(invalid="ignore"):
        least_soft = np.fmin.reduce([j.least_soft for j in judged])
    broken = int((least < 0.0).any(axis=1).sum())
    return Finding(
        check=check.id,
        family=first.family,
        verdict=verdict,
        value=value,
        limit=limit,
        margin=margin,
        unit=first.source_margin.unit or check.unit,
        thing=str(margins[judged.index(first)].thing[index]) if index is not None else "",
        at=spot(scene, index) if index is not None else None,
        reason=words.reason,
        advice=words.advice,
        source=margins[judged.index(first)].source,
        assumptions=tuple(dict.fromkeys(a for m in margins for a in m.assumptions)),
        remarks=remarks,
        rides_breaking=broken,
        share_bound=shares.upper_bound(broken, ride.rides) if ride.rides > 1 else None,
        margins=np.asarray(chosen([j.margin[0] for j in judged]), dtype=float),
        softs=np.asarray(chosen([j.soft[0] for j in judged]), dtype=float),
        values=np.asarray(chosen([m.value for m in margins]), dtype=float),
        limits=np.asarray(chosen([m.limit for m in margins]), dtype=float),
        things=things,
        sample_codes=np.max([j.sample_codes() for j in judged], axis=0),
        metre_codes=np.max([j.metre_codes() for j in judged], axis=0),
        least=least,
        least_soft=least_soft.astype(np.float32),
        go_if=words.go_if,
        drawings=tuple(d for m in margins for d in m.drawings),
    )


def _second_reasons(judged: Sequence[_Judged], first: _Judged) -> Iterator[Remark]:
    """What else is not go, so that mending the first reason does not bring up a second."""
    for other in judged:
        if other is not first and other.verdict != Verdict.GO:
            words = other.words()
            yield Remark(f"also {other.verdict.word}: {words.reason}; {words.advice}")


def _rank(margin: Array, soft: Array) -> Array:
    """Smaller is worse: broken margins by depth, then unknown, then softly broken, then sound."""
    big = 1e6
    sound = np.minimum(margin, big / 10)
    rank = np.where(soft < 0.0, np.maximum(soft, -big / 10) - big, sound)
    rank = np.where(np.isnan(margin), -3 * big, rank)
    return np.where(margin < 0.0, np.maximum(margin, -big / 10) - 5 * big, rank)


def _worst_of(rows: Sequence[NDArray[np.float32]]) -> NDArray[np.float32]:
    """Elementwise: broken wins over unknown, unknown over sound."""
    stack = np.stack(rows)
    least = np.fmin.reduce(stack)
    return np.where((least >= 0.0) & np.isnan(stack).any(axis=0), np.nan, least).astype(np.float32)


class _Judged:
    """One margin of a check, judged over all rides."""

    def __init__(
        self, check: Check, margin: Margin, hard: Array, soft: Array, metres: Array, scene: Scene
    ) -> None:
        ride = scene.track.ride
        self.source_margin = margin
        self.family: Family = margin.family or check.family
        self.binds = check.binds
        self.margin, self.soft = hard, soft
        self.least = by_place.least_by_place(hard, ride.along_m, metres, ride.filming)
        self.least_soft = by_place.least_by_place(soft, ride.along_m, metres, ride.filming)
        broken, unknown, softly = (
            np.asarray((flags & ride.filming).any(axis=1))
            for flags in (hard < 0.0, np.isnan(hard), soft < 0.0)
        )
        self.verdict = over_rides(self.family, broken, unknown & ~broken, softly, margin.share)
        self.sample = self._sample()

    def _sample(self) -> int | None:
        """Row 0's sample that decides: deepest break, else first unknown, else tightest."""
        hard, soft = self.margin[0], self.soft[0]
        if (hard < 0.0).any():
            return int(np.nanargmin(hard))
        if np.isnan(hard).any():
            return int(np.argmax(np.isnan(hard)))
        if (soft < 0.0).any():
            return int(np.nanargmin(soft))
        if np.isinf(hard).all():
            return None
        return int(np.argmin(hard))

    @property
    def tightness(self) -> float:
        """For choosing among margins of the same verdict: the smaller the tighter."""
        if self.sample is None:
            return math.inf
        return float(_rank(self.margin[0], self.soft[0])[self.sample])

    def numbers(self) -> tuple[float | None, float | None, float | None]:
        """Value, limit, margin at the deciding sample; None where unknown or nothing applies."""
        i = self.sample
        if i is None:
            return None, None, None
        hard, soft = float(self.margin[0, i]), float(self.soft[0, i])
        value, limit = float(self.source_margin.value[i]), float(self.source_margin.limit[i])
        if math.isnan(hard):
            return None, _finite(limit), None
        if soft < 0.0 <= hard:
            limit = value - soft if self.binds == "at-least" else value + soft
            hard = soft
        return _finite(value), _finite(limit), _finite(hard)

    def sample_codes(self) -> NDArray[np.int8]:
        """`(n,)` row 0's verdict codes."""
        return sample_verdicts(self.family, self.margin[0], self.soft[0])

    def metre_codes(self) -> NDArray[np.int8]:
        """`(k,)` verdict codes: the shot's rule applied to the rides near each metre."""
        if self.least.shape[0] == 1:
            hard, soft = self.least[0].astype(float), self.least_soft[0].astype(float)
            return sample_verdicts(self.family, hard, soft)
        share = self.source_margin.share
        return np.array(
            [
                int(over_rides(self.family, c < 0.0, np.isnan(c), s < 0.0, share))
                for c, s in zip(self.least.T, self.least_soft.T, strict=True)
            ],
            dtype=np.int8,
        )

    def words(self) -> Words:
        """Reason and advice for the deciding sample."""
        return self.source_margin.why(-1 if self.sample is None else self.sample, self.verdict)


def _judge(check: Check, scene: Scene, margin: Margin, known: Bools, metres: Array) -> _Judged:
    shape = known.shape
    hard = np.where(known, np.broadcast_to(margin.margin, shape), np.nan)
    soft = np.broadcast_to(np.inf if margin.soft is None else margin.soft, shape)
    return _Judged(check, margin, np.asarray(hard), np.asarray(soft), metres, scene)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def merge_samples(findings: Sequence[Finding]) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """`(n,)` worst verdict code of each sample and the index of the finding that decides it
    (-1 where all is go)."""
    codes = np.stack([f.sample_codes for f in findings])
    verdict = codes.max(axis=0)
    binding = np.argmax(codes, axis=0).astype(np.int8)
    return verdict, np.where(verdict == int(Verdict.GO), -1, binding).astype(np.int8)


def stretches(scene: Scene, findings: Sequence[Finding]) -> tuple[Stretch, ...]:
    """Runs of metres with one verdict, and what binds in each."""
    metres = by_place.metres(scene.track.ride.along_m[0])
    codes = np.stack([f.metre_codes for f in findings])
    verdict = codes.max(axis=0)
    edges = [0, *(np.flatnonzero(np.diff(verdict)) + 1).tolist(), len(verdict)]
    result = []
    for low, high in itertools.pairwise(edges):
        code = int(verdict[low])
        binding, margin = _binding(findings, codes, code, slice(low, high))
        start = scene.shot.from_m if low == 0 else float(metres[low])
        end = scene.shot.to_m if high == len(verdict) else float(metres[high])
        result.append(Stretch(start, end, Verdict(code), binding, margin))
    return tuple(result)


def _binding(
    findings: Sequence[Finding], codes: NDArray[np.int8], code: int, part: slice
) -> tuple[str, float | None]:
    """The finding that decides a stretch: of those with its verdict the one nearest its limit."""
    best: tuple[float, str, float | None] = (math.inf, "", None)
    for found, row in zip(findings, codes, strict=True):
        if int(row[part].max()) != code:
            continue
        hard = found.least[0, part].astype(float)
        soft = found.least_soft[0, part].astype(float)
        if code == int(Verdict.UNKNOWN):
            return found.check, None
        use = soft if code == int(Verdict.CAUTION) and not (hard < 0.0).any() else hard
        least = float(np.nanmin(use)) if not np.isnan(use).all() else math.inf
        scale = abs(found.limit) if found.limit else 1.0
        if least / max(scale, 1.0) < best[0]:
            best = (least / max(scale, 1.0), found.check, _finite(least))
    return best[1], best[2]
