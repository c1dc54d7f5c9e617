"""From margins to findings, from findings to verdicts and stretches (DEFINITIONS, last section).

Everything here works on margins whatever they measure, so a check that is written later is
judged, placed on the map and cut into stretches by the same lines.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.ask import Asked, ask
from shotplan.judging.judged import Also, Finding, Stretch, remarked
from shotplan.judging.tell import NOTHING_LIFTS, Told, finite, tell, warned
from shotplan.judging.verdicts import Codes, worst_of
from shotplan.kernels.rides import by_place, shares
from shotplan.kernels.rides.runs import runs
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict, worst
from shotplan.scene.margin import Check, Remark, Words
from shotplan.scene.scene import Scene


def find(check: Check, scene: Scene) -> Finding:
    """One finding: the check asked of the undisturbed ride, then of the others. Where it rests on
    ground nobody knows, every margin is unknown; where its numbers rest on the terrain, what that
    rests on is said under it (how it was laid into the site, how exactly, how coarse it is). A
    rule of elsewhere is at best a caution."""
    asked = ask(check, scene)
    found = _keep(check, asked, tell(scene, asked), warned(scene, asked), _foreign(scene))
    if found.at is None or not check.on_terrain:
        return found
    rests = (*found.assumptions, *scene.site.terrain.assumptions)
    return replace(found, assumptions=tuple(dict.fromkeys(rests)))


def _foreign(scene: Scene) -> tuple[Remark, ...]:
    """What keeps to another country's pack keeps to no rule that holds here."""
    elsewhere = scene.rules.elsewhere(scene.site.country)
    if not elsewhere:
        return ()
    advice = (
        f"plan with a pack for {scene.site.country}: 1 of `shotplan rules`, or one of your own "
        "that says its rules and where they stand"
    )
    return (Remark(elsewhere, True, "", advice, short=elsewhere),)


def _keep(
    check: Check, asked: Sequence[Asked], told: Sequence[Told], warns: Sequence[Told],
    foreign: tuple[Remark, ...],
) -> Finding:  # fmt: skip
    """The worst limit gives the numbers; sample by sample it is the worst there."""
    index = _deciding(asked)
    deciding, shown = asked[index], told[index]
    margins, parts = [one.margin for one in asked], tuple(one.placed for one in asked)
    remarks = tuple(r for m in margins for r in m.remarks)
    if deciding.whole.family == "rule" and deciding.verdict == Verdict.GO:
        remarks = (*foreign, *remarks)
    also = _also([one for i, one in enumerate(told) if i != index], warns, remarks)
    verdict, words = _in_all(shown, also)
    least = worst_of(np.stack([part.least for part in parts]), axis=0)
    drawn = max(len(least) - 1, 0)
    broken = int((least[1 if drawn else 0 :] < 0.0).any(axis=1).sum())
    return Finding(
        of=check,
        family=deciding.whole.family,
        verdict=verdict,
        value=shown.value,
        limit=shown.limit,
        margin=shown.margin,
        unit=shown.unit,
        thing=shown.thing,
        at=shown.at,
        ride=shown.ride,
        reason=words.reason,
        advice=words.advice,
        source="; ".join(dict.fromkeys(_sources(asked, index))),
        assumptions=tuple(dict.fromkeys(a for m in margins for a in m.assumptions)),
        remarks=remarks,
        rides_breaking=broken,
        share_bound=shares.upper_bound(broken, drawn) if drawn else None,
        **_by_sample(asked),
        metre_codes=np.max([part.codes() for part in parts], axis=0),
        least=least,
        least_soft=np.fmin.reduce([part.least_soft for part in parts]),
        by_limit=shown.verdict,
        also=also,
        parts=parts,
        go_if=words.go_if,
        drawings=tuple(d for m in margins for d in m.drawings),
    )


def _by_sample(asked: Sequence[Asked]) -> dict[str, NDArray[Any]]:
    """Row 0's arrays of a finding: at each sample of the worst limit, and of the worst caution."""
    margins = [one.margin for one in asked]
    pick = np.argmin([one.rank for one in asked], axis=0)
    softly = np.argmin([one.samples.least_soft[0] for one in asked], axis=0)
    return {
        "margins": _picked(pick, (one.samples.least[0] for one in asked)),
        "softs": _picked(softly, (one.samples.least_soft[0] for one in asked)),
        "values": _picked(pick, (m.value for m in margins)),
        "limits": _picked(pick, (m.limit for m in margins)),
        "things": _picked(pick, (m.thing for m in margins), object),
        "soft_things": _picked(softly, (m.thing for m in margins), object),
        "sample_codes": np.max([one.samples.codes() for one in asked], axis=0),
    }


def _deciding(asked: Sequence[Asked]) -> int:
    """Which margin decides: of those with the worst verdict the tightest."""
    verdict = worst(one.verdict for one in asked)
    tightness = {
        i: math.inf if one.sample is None else float(one.rank[one.sample])
        for i, one in enumerate(asked)
        if one.verdict == verdict
    }
    return min(tightness, key=lambda i: tightness[i])


def _also(
    limits: Iterable[Told], warns: Iterable[Told], remarks: Iterable[Remark]
) -> tuple[Also, ...]:
    """What else is not go, worst first, so that mending the first reason does not bring up a
    second: other limits, cautions of their own, and remarks that call for caution."""
    found = [told.also() for told in (*limits, *warns) if told.verdict != Verdict.GO]
    found += [remarked(r, r.advice or NOTHING_LIFTS) for r in remarks if r.caution]
    return tuple(sorted(found, key=lambda one: -int(one.verdict)))


def _in_all(shown: Told, also: Sequence[Also]) -> tuple[Verdict, Words]:
    """The worst word and its words: those of the limit, unless only something else is so bad."""
    verdict = worst((shown.verdict, *(one.verdict for one in also)))
    if verdict == shown.verdict:
        return verdict, shown.words
    deciding = [one for one in also if one.verdict == verdict]
    reason, advice = (
        "; ".join(dict.fromkeys(texts))
        for texts in zip(*((one.reason, one.advice) for one in deciding), strict=True)
    )
    return verdict, shown.words._replace(reason=reason, advice=advice)


def _sources(asked: Sequence[Asked], index: int) -> Iterator[str]:
    """Of the limit that is shown, and of what else is not go."""
    for i, one in enumerate(asked):
        if one.margin.source and (i == index or one.verdict != Verdict.GO or one.warns):
            yield one.margin.source


def _picked(pick: NDArray[np.intp], rows: Iterable[NDArray[Any]], of: type = float) -> NDArray[Any]:
    """At each sample the row that is picked there."""
    return np.asarray(np.stack(list(rows))[pick, np.arange(len(pick))], dtype=of)


def merge_samples(findings: Sequence[Finding], along_m: Array) -> tuple[Codes, Codes]:
    """`(n,)` worst verdict code of each sample of row 0 and the index of the finding that decides
    it (-1 where all is go). Over many rides a sample is as bad as its metre `along_m (n,)`."""
    metre = (np.floor(along_m) - np.floor(along_m[0])).astype(np.intp)
    codes = np.stack([_sample_codes(f, metre) for f in findings])
    verdict = codes.max(axis=0)
    binding = np.argmax(codes, axis=0).astype(np.int8)
    return verdict, np.where(verdict == int(Verdict.GO), -1, binding).astype(np.int8)


def _sample_codes(found: Finding, metre: NDArray[np.intp]) -> Codes:
    if len(found.least) == 1:
        return found.sample_codes
    at_metre = found.metre_codes[metre.clip(0, len(found.metre_codes) - 1)]
    return np.asarray(np.maximum(found.sample_codes, at_metre))


def stretches(scene: Scene, findings: Sequence[Finding]) -> tuple[Stretch, ...]:
    """Runs of metres with one verdict, and what binds in each."""
    metres = by_place.metres(scene.track.ride.along_m[0])
    verdict = np.max([f.metre_codes for f in findings], axis=0)
    result = []
    for low, high in runs(verdict):
        codes = [_over_stretch(f, slice(low, high)) for f in findings]
        code = max(codes)
        deciding = [f for f, own in zip(findings, codes, strict=True) if own == code]
        binding, margin = _binding(deciding, code, slice(low, high))
        start = scene.shot.from_m if low == 0 else float(metres[low])
        end = scene.shot.to_m if high == len(verdict) else float(metres[high])
        result.append(Stretch(start, end, Verdict(code), binding, margin))
    return tuple(result)


def _over_stretch(found: Finding, metres: slice) -> int:
    """Verdict code of a finding over some metres: the shot's rule applied to the rides that break
    anywhere in them."""
    rides = found.parts if len(found.least) > 1 else ()
    codes = [int(part.at(slice(None), metres).verdict) for part in rides]
    return max(int(found.metre_codes[metres].max()), *codes, 0)


def _binding(findings: Sequence[Finding], code: int, metres: slice) -> tuple[str, float | None]:
    """Of the findings that decide a stretch the one nearest its limit."""
    best: tuple[float, str, float | None] = (math.inf, "", None)
    for found in findings:
        if code == int(Verdict.UNKNOWN):
            return found.check, None
        hard, soft = (
            _of_worst(a[:, metres].astype(float)) for a in (found.least, found.least_soft)
        )
        use = soft if code == int(Verdict.CAUTION) and not (hard < 0.0).any() else hard
        least = float(np.nanmin(use)) if not np.isnan(use).all() else math.inf
        scale = abs(found.limit) if found.limit else 1.0
        if least / max(scale, 1.0) < best[0]:
            best = (least / max(scale, 1.0), found.check, finite(least))
    return best[1], best[2]


def _of_worst(least: Array) -> Array:
    """Row 0 of `least (r, k)`; where that is sound and others break, the worst of all."""
    of_all = np.asarray(np.fmin.reduce(least, axis=0))
    return of_all if (of_all < 0.0).any() and not (least[0] < 0.0).any() else np.asarray(least[0])
