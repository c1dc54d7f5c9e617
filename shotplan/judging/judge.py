"""From margins to findings, from findings to verdicts and stretches (DEFINITIONS, last section).

Everything here works on margins whatever they measure, so a check that is written later is
judged, placed on the map and cut into stretches by the same lines.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.judged import Finding, Part, Spot, Stretch
from shotplan.kernels.rides import by_place, shares
from shotplan.model.arrays import Array, Bools
from shotplan.model.verdict import Family, Verdict, worst
from shotplan.scene.margin import Check, Margin, Remark, Words
from shotplan.scene.scene import Scene


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
    family: Family,
    broken: Bools,
    unknown: Bools,
    softly: Bools,
    share: float,
    *,
    proving: bool = True,
) -> NDArray[np.int8]:
    """Verdict codes from flags of rides `(r, ...)`; row 0 is the undisturbed one. Without
    `proving` the share seen counts, whatever so few rides prove (a search)."""
    rides = len(broken)
    no = Verdict.CAUTION if family == "picture" else Verdict.NO_GO
    count = broken.sum(axis=0)
    code = np.where((count > 0) | softly.any(axis=0), int(Verdict.CAUTION), int(Verdict.GO))
    if rides > 1:
        few = (unknown & ~broken).any(axis=0)
        if family == "harm" and proving:
            few |= count > _proving(rides, share)
        code = np.where(few, int(Verdict.UNKNOWN), code)
        code = np.where(count > share * rides, int(no), code)
    code = np.where(unknown[0] & (code < int(Verdict.NO_GO)), int(Verdict.UNKNOWN), code)
    return np.where(broken[0], int(no), code).astype(np.int8)


@lru_cache(maxsize=64)
def _proving(rides: int, share: float) -> int:
    """The most broken rides that still prove the share to be at most that; -1 where none do."""
    proves, too_many = -1, rides + 1
    while too_many - proves > 1:
        count = (proves + too_many) // 2
        if shares.upper_bound(count, rides) <= share:
            proves = count
        else:
            too_many = count
    return proves


def find(check: Check, scene: Scene) -> Finding:
    """One finding: the check asked of the undisturbed ride, then of the others. Where it rests on
    ground nobody knows, every margin is unknown."""
    first = scene.first
    metres = by_place.metres(first.track.ride.along_m[0])
    margins = check.margins(first)
    judged = [_Judged(check, m, first, metres) for m in margins]
    for block in _others(check, scene):
        for one, margin in zip(judged, check.margins(block), strict=True):
            one.add(margin, block)
    told = [_told(check, scene, one, index) for index, one in enumerate(judged)]
    verdict = worst(one.verdict for one in judged)
    index = min(
        (i for i, one in enumerate(judged) if one.verdict == verdict),
        key=lambda i: (judged[i].tightness, i),
    )
    shown, deciding, words = told[index], judged[index], told[index].words
    also = [
        Remark(f"also {j.verdict.word}: {t.words.reason}; {t.words.advice}", kind="also")
        for j, t in zip(judged, told, strict=True)
        if j is not deciding and j.verdict != Verdict.GO
    ]  # so that mending the first reason does not bring up a second
    remarks = (*also, *(r for m in margins for r in m.remarks))
    wary = [r for r in remarks if r.caution]
    if wary and verdict == Verdict.GO:
        verdict = Verdict.CAUTION
        words = Words("; ".join(r.text for r in wary), "; ".join(r.advice for r in wary))
    value, limit, short = shown.numbers
    pick = np.argmin(np.stack([_rank(j.hard, j.soft) for j in judged]), axis=0)

    def chosen(rows: Sequence[NDArray[np.generic]]) -> NDArray[np.generic]:
        return np.asarray(np.choose(pick, [np.asarray(r) for r in rows]))

    parts = tuple(Part(j.least, j.least_soft, j.source_margin.share, j.family) for j in judged)
    least = _worst_of([part.least for part in parts])
    with np.errstate(invalid="ignore"):
        least_soft = np.fmin.reduce([part.least_soft for part in parts])
    rides, broken = len(least), int((least < 0.0).any(axis=1).sum())
    return Finding(
        of=check,
        family=deciding.family,
        verdict=verdict,
        value=value,
        limit=limit,
        margin=short,
        unit=deciding.source_margin.unit or check.unit,
        thing=shown.thing,
        at=shown.at,
        ride=shown.ride,
        reason=words.reason,
        advice=words.advice,
        source=deciding.source_margin.source,
        assumptions=tuple(dict.fromkeys(a for m in margins for a in m.assumptions)),
        remarks=remarks,
        rides_breaking=broken,
        share_bound=shares.upper_bound(broken, rides) if rides > 1 else None,
        margins=np.asarray(chosen([j.hard for j in judged]), dtype=float),
        softs=np.asarray(chosen([j.soft for j in judged]), dtype=float),
        values=np.asarray(chosen([m.value for m in margins]), dtype=float),
        limits=np.asarray(chosen([m.limit for m in margins]), dtype=float),
        things=np.array([margins[p].thing[i] for i, p in enumerate(pick)], dtype=object),
        sample_codes=np.max([j.sample_codes() for j in judged], axis=0),
        metre_codes=np.max([j.metre_codes() for j in judged], axis=0),
        least=least,
        least_soft=least_soft.astype(np.float32),
        parts=parts,
        go_if=words.go_if,
        drawings=tuple(d for m in margins for d in m.drawings),
    )


def _others(check: Check, scene: Scene) -> Iterator[Scene]:
    """The disturbed rides in blocks; none where no ride changes the check."""
    return iter(() if check.rides == "first" else scene.others)


class _Told(NamedTuple):
    """What is said of one margin, and which ride it is said of (0 the undisturbed)."""

    words: Words
    numbers: tuple[float | None, float | None, float | None]
    thing: str
    at: Spot | None
    ride: int = 0


def _told(check: Check, scene: Scene, judged: _Judged, index: int) -> _Told:
    """The undisturbed ride's numbers and words, unless it is sound and others break: then those
    of the worst ride."""
    ride = judged.worst_ride()
    if not ride:
        told = _of_one(scene.first, judged)
        if judged.verdict == Verdict.UNKNOWN and judged.own != Verdict.UNKNOWN:
            return told._replace(words=_too_few(judged))
        return told
    alone = scene.only(ride)
    again = _Judged(check, check.margins(alone)[index], alone, judged.metres)
    told = _of_one(alone, again)
    reason = f"{judged.split()}; in ride {ride}: {told.words.reason}"
    words = told.words._replace(reason=f"{reason}; {scene.led}" if scene.led else reason)
    broken = int(judged.broken.sum())
    if broken and judged.verdict == Verdict.UNKNOWN:
        words = words._replace(advice=f"{words.advice}; {_too_few(judged).advice}")
    return told._replace(words=words, ride=ride)


def _of_one(scene: Scene, judged: _Judged) -> _Told:
    at = judged.sample
    thing = str(judged.source_margin.thing[at]) if at is not None else ""
    place = spot(scene, at) if at is not None else None
    return _Told(judged.words(), judged.numbers(), thing, place)


def _too_few(judged: _Judged) -> Words:
    """What so many rides prove, and how many would do."""
    broken, rides, share = int(judged.broken.sum()), len(judged.broken), judged.source_margin.share
    wanted = shares.rides_needed(share, broken)
    count = f"{broken} of {rides} rides break it" if broken else f"none of {rides} rides breaks it"
    return Words(
        f"{count}: that proves a share under {shares.upper_bound(broken, rides):.1%}, not the "
        f"{share:.0%} allowed",
        f"reckon with at least {wanted} rides ([disturbance] rides = {wanted})"
        + (f", of which no more than {broken} break it" if broken else ""),
    )


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
    """One margin of a check: of the undisturbed ride sample by sample, of all rides by place."""

    def __init__(self, check: Check, margin: Margin, scene: Scene, metres: Array) -> None:
        self.source_margin = margin
        self.family: Family = margin.family or check.family
        self.binds = check.binds
        self.metres = metres
        self._rows: list[_Rows] = []
        hard, soft = self.add(margin, scene)
        self.hard, self.soft = hard[0], soft[0]
        self.sample = self._sample()

    def add(self, margin: Margin, scene: Scene) -> tuple[Array, Array]:
        """Take in more rides; their margins `(r,n)`, hard and soft (+inf where not filmed)."""
        ride, known = scene.track.ride, scene.track.known
        shape = known.shape
        exact = bool(np.isinf(scene.enough_m))

        def placed(filmed: Array) -> NDArray[np.float32]:
            return by_place.least_by_place(
                filmed, ride.along_m, self.metres, ride.filming, sound_too=exact
            )

        hard = np.where(known, np.broadcast_to(margin.margin, shape), np.nan)
        hard = np.where(ride.filming, hard, np.inf)
        least = placed(hard)
        soft, least_soft = np.broadcast_to(np.inf, shape), np.full_like(least, np.inf)
        if margin.soft is not None:
            soft = np.where(ride.filming, margin.soft, np.inf)
            least_soft = placed(soft)
        broken, unknown, softly = (
            np.asarray(flags.any(axis=1)) for flags in (hard < 0.0, np.isnan(hard), soft < 0.0)
        )
        deepest = np.asarray(np.fmin.reduce(hard, axis=1))
        self._rows.append(_Rows(least, least_soft, broken, unknown, softly, deepest))
        return hard, soft

    @cached_property
    def _all(self) -> _Rows:
        return _Rows(*(np.concatenate(a) for a in zip(*self._rows, strict=True)))

    @property
    def least(self) -> NDArray[np.float32]:
        """`(r, k)`."""
        return self._all.least

    @property
    def least_soft(self) -> NDArray[np.float32]:
        """`(r, k)`."""
        return self._all.least_soft

    @property
    def broken(self) -> Bools:
        """`(r,)` rides that break it anywhere."""
        return self._all.broken

    @cached_property
    def verdict(self) -> Verdict:
        """Over all rides."""
        it = self._all
        return self._over(it.broken, it.unknown, it.softly)

    @cached_property
    def own(self) -> Verdict:
        """Of the undisturbed ride alone."""
        it = self._all
        return self._over(it.broken[:1], it.unknown[:1], it.softly[:1])

    def _over(self, broken: Bools, unknown: Bools, softly: Bools) -> Verdict:
        share = self.source_margin.share
        return Verdict(int(over_rides(self.family, broken, unknown, softly, share)))

    def worst_ride(self) -> int:
        """The ride to tell of: 0, unless the undisturbed one is sound and others are not."""
        it = self._all
        if it.broken[0] or (it.unknown[0] and self.verdict != Verdict.NO_GO):
            return 0
        if it.broken.any():
            return int(np.nanargmin(it.deepest))
        return int(np.argmax(it.unknown))

    def split(self) -> str:
        """How the undisturbed ride fares and how the others do not, in words."""
        it, rides = self._all, len(self.broken)
        unknown, broken = int(it.unknown.sum()), int(it.broken.sum())
        if it.unknown[0]:
            return f"of the undisturbed ride it is not known, {broken} of {rides} rides break it"
        keeps = "the undisturbed ride keeps clear of it"
        if broken:
            return f"{keeps}, {broken} of {rides} rides do not"
        return f"{keeps}, of {unknown} of {rides} rides it is not known"

    def _sample(self) -> int | None:
        """Row 0's sample that decides: deepest break, else first unknown, else tightest."""
        hard, soft = self.hard, self.soft
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
        return float(_rank(self.hard, self.soft)[self.sample])

    def numbers(self) -> tuple[float | None, float | None, float | None]:
        """Value, limit, margin at the deciding sample; None where unknown or nothing applies."""
        i = self.sample
        if i is None:
            return None, None, None
        hard, soft = float(self.hard[i]), float(self.soft[i])
        value, limit = float(self.source_margin.value[i]), float(self.source_margin.limit[i])
        if math.isnan(hard):
            return None, _finite(limit), None
        if soft < 0.0 <= hard:
            limit = value - soft if self.binds == "at-least" else value + soft
            hard = soft
        return _finite(value), _finite(limit), _finite(hard)

    def sample_codes(self) -> NDArray[np.int8]:
        """`(n,)` row 0's verdict codes."""
        return sample_verdicts(self.family, self.hard, self.soft)

    def metre_codes(self) -> NDArray[np.int8]:
        """`(k,)` verdict codes: the shot's rule applied to the rides near each metre."""
        least, softly = self.least, self.least_soft < 0.0
        share = self.source_margin.share
        return over_rides(self.family, least < 0.0, np.isnan(least), softly, share)

    def words(self) -> Words:
        """Reason and advice for the undisturbed ride's deciding sample."""
        return self.source_margin.why(-1 if self.sample is None else self.sample, self.own)


class _Rows(NamedTuple):
    """Of some rides: `least`, `least_soft (r,k)`; whether each breaks, does not know, softly
    breaks anywhere, and its deepest margin `(r,)`."""

    least: NDArray[np.float32]
    least_soft: NDArray[np.float32]
    broken: Bools
    unknown: Bools
    softly: Bools
    deepest: Array


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def merge_samples(
    findings: Sequence[Finding], along_m: Array
) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """`(n,)` worst verdict code of each sample of row 0 and the index of the finding that decides
    it (-1 where all is go). Over many rides a sample is as bad as its metre `along_m (n,)`."""
    metre = (np.floor(along_m) - np.floor(along_m[0])).astype(np.intp)
    codes = np.stack([_sample_codes(f, metre) for f in findings])
    verdict = codes.max(axis=0)
    binding = np.argmax(codes, axis=0).astype(np.int8)
    return verdict, np.where(verdict == int(Verdict.GO), -1, binding).astype(np.int8)


def _sample_codes(found: Finding, metre: NDArray[np.intp]) -> NDArray[np.int8]:
    if len(found.least) == 1:
        return found.sample_codes
    at_metre = found.metre_codes[metre.clip(0, len(found.metre_codes) - 1)]
    return np.asarray(np.maximum(found.sample_codes, at_metre))


def stretches(scene: Scene, findings: Sequence[Finding]) -> tuple[Stretch, ...]:
    """Runs of metres with one verdict, and what binds in each."""
    metres = by_place.metres(scene.track.ride.along_m[0])
    codes = np.stack([f.metre_codes for f in findings])
    verdict = codes.max(axis=0)
    edges = [0, *(np.flatnonzero(np.diff(verdict)) + 1).tolist(), len(verdict)]
    result = []
    for low, high in itertools.pairwise(edges):
        codes[:, low:high] = [[over_stretch(f, slice(low, high))] for f in findings]
        code = int(codes[:, low].max())
        binding, margin = _binding(findings, codes, code, slice(low, high))
        start = scene.shot.from_m if low == 0 else float(metres[low])
        end = scene.shot.to_m if high == len(verdict) else float(metres[high])
        result.append(Stretch(start, end, Verdict(code), binding, margin))
    return tuple(result)


def _of_worst(least: Array) -> Array:
    """Row 0 of `least (r, k)`; where that is sound and others break, the worst of all."""
    of_all = np.asarray(np.fmin.reduce(least, axis=0))
    return of_all if (of_all < 0.0).any() and not (least[0] < 0.0).any() else np.asarray(least[0])


def over_stretch(found: Finding, part: slice) -> int:
    """Verdict code of a finding over some metres: the shot's rule applied to the rides that break
    anywhere in them."""
    code = int(found.metre_codes[part].max())
    for one in found.parts if len(found.least) > 1 else ():
        least, softly = one.least[:, part], one.least_soft[:, part] < 0.0
        broken, unknown, soft = (
            np.asarray(flags.any(axis=1)) for flags in (least < 0.0, np.isnan(least), softly)
        )
        code = max(code, int(over_rides(one.family, broken, unknown, soft, one.share)))
    return code


def _binding(
    findings: Sequence[Finding], codes: NDArray[np.int8], code: int, part: slice
) -> tuple[str, float | None]:
    """The finding that decides a stretch: of those with its verdict the one nearest its limit."""
    best: tuple[float, str, float | None] = (math.inf, "", None)
    for found, row in zip(findings, codes, strict=True):
        if int(row[part].max()) != code:
            continue
        hard, soft = (_of_worst(a[:, part].astype(float)) for a in (found.least, found.least_soft))
        if code == int(Verdict.UNKNOWN):
            return found.check, None
        use = soft if code == int(Verdict.CAUTION) and not (hard < 0.0).any() else hard
        least = float(np.nanmin(use)) if not np.isnan(use).all() else math.inf
        scale = abs(found.limit) if found.limit else 1.0
        if least / max(scale, 1.0) < best[0]:
            best = (least / max(scale, 1.0), found.check, _finite(least))
    return best[1], best[2]
