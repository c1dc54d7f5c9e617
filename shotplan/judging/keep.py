"""Keep: one finding of all the margins of a check."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.ask import Asked
from shotplan.judging.judged import Finding
from shotplan.judging.tell import Told
from shotplan.judging.verdicts import worst_of
from shotplan.kernels.rides import shares
from shotplan.model.verdict import Verdict, worst
from shotplan.scene.margin import Check, Remark, Words


def keep(check: Check, asked: Sequence[Asked], told: Sequence[Told]) -> Finding:
    """The worst margin gives the numbers; sample by sample it is the worst there."""
    index = _deciding(asked)
    deciding, shown = asked[index], told[index]
    margins, parts = [one.margin for one in asked], tuple(one.placed for one in asked)
    remarks = (*_also(asked, told, index), *(r for m in margins for r in m.remarks))
    verdict, words = _wary(deciding.verdict, shown.words, remarks)
    pick = np.argmin([one.rank for one in asked], axis=0)
    least = worst_of(np.stack([part.least for part in parts]), axis=0)
    rides, broken = len(least), int((least < 0.0).any(axis=1).sum())
    return Finding(
        check=check.id,
        family=deciding.whole.family,
        verdict=verdict,
        value=shown.value,
        limit=shown.limit,
        margin=shown.margin,
        unit=deciding.margin.unit or check.unit,
        thing=shown.thing,
        at=shown.at,
        ride=shown.ride,
        reason=words.reason,
        advice=words.advice,
        source=deciding.margin.source,
        assumptions=tuple(dict.fromkeys(a for m in margins for a in m.assumptions)),
        remarks=remarks,
        rides_breaking=broken,
        share_bound=shares.upper_bound(broken, rides) if rides > 1 else None,
        margins=_picked(pick, (one.samples.least[0] for one in asked)),
        softs=_picked(pick, (one.samples.least_soft[0] for one in asked)),
        values=_picked(pick, (m.value for m in margins)),
        limits=_picked(pick, (m.limit for m in margins)),
        things=_picked(pick, (m.thing for m in margins), object),
        sample_codes=np.max([one.samples.codes() for one in asked], axis=0),
        metre_codes=np.max([part.codes() for part in parts], axis=0),
        least=least,
        least_soft=np.fmin.reduce([part.least_soft for part in parts]),
        parts=parts,
        go_if=words.go_if,
        drawings=tuple(d for m in margins for d in m.drawings),
    )


def _deciding(asked: Sequence[Asked]) -> int:
    """Which margin decides: of those with the worst verdict the tightest."""
    verdict = worst(one.verdict for one in asked)
    tightness = {
        i: math.inf if one.sample is None else float(one.rank[one.sample])
        for i, one in enumerate(asked)
        if one.verdict == verdict
    }
    return min(tightness, key=lambda i: tightness[i])


def _also(asked: Sequence[Asked], told: Sequence[Told], index: int) -> Iterator[Remark]:
    """The other margins that are not sound, so that mending the first reason does not bring up a
    second."""
    for i, (one, said) in enumerate(zip(asked, told, strict=True)):
        if i != index and one.verdict != Verdict.GO:
            words = said.words
            yield Remark(f"also {one.verdict.word}: {words.reason}; {words.advice}")


def _wary(verdict: Verdict, words: Words, remarks: Sequence[Remark]) -> tuple[Verdict, Words]:
    """What is go but for remarks that call for caution is a caution, and says theirs."""
    wary = [r for r in remarks if r.caution]
    if not wary or verdict != Verdict.GO:
        return verdict, words
    reason, advice = (
        "; ".join(texts) for texts in zip(*((r.text, r.advice) for r in wary), strict=True)
    )
    return Verdict.CAUTION, Words(reason, advice)


def _picked(pick: NDArray[np.intp], rows: Iterable[NDArray[Any]], of: type = float) -> NDArray[Any]:
    """At each sample the row that is picked there."""
    return np.asarray(np.stack(list(rows))[pick, np.arange(len(pick))], dtype=of)
