"""From margins to verdicts: the one rule, whatever the margins measure and at whatever places
(DEFINITIONS, last section)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.rides import shares
from shotplan.model.arrays import Bools
from shotplan.model.verdict import Family, Verdict

Float = TypeVar("Float", bound=np.floating[Any])
Floats = NDArray[np.floating[Any]]
Codes = NDArray[np.int8]


def over_rides(
    family: Family,
    broken: Bools,
    unknown: Bools,
    softly: Bools,
    share: float,
    *,
    proving: bool = True,
) -> Codes:
    """Verdict codes from flags of rides `(r, ...)`; row 0 is the undisturbed one. Without
    `proving` the share seen counts, whatever so few rides prove (a search)."""
    rides = len(broken)
    no = Verdict.CAUTION if family == "picture" else Verdict.NO_GO
    count = broken.sum(axis=0)
    code = np.where((count > 0) | softly.any(axis=0), int(Verdict.CAUTION), int(Verdict.GO))
    if rides > 1:
        few = (unknown & ~broken).any(axis=0)
        if family == "harm" and proving:
            few |= count > shares.proving(rides, share)
        code = np.where(few, int(Verdict.UNKNOWN), code)
        code = np.where(count > share * rides, int(no), code)
    code = np.where(unknown[0] & (code < int(Verdict.NO_GO)), int(Verdict.UNKNOWN), code)
    return np.where(broken[0], int(no), code).astype(np.int8)


def worst_of(margins: NDArray[Float], axis: int) -> NDArray[Float]:
    """Along an axis: broken wins over unknown, unknown over sound."""
    least = np.fmin.reduce(margins, axis=axis)
    doubt = (least >= 0.0) & np.isnan(margins).any(axis=axis)
    return np.where(doubt, np.nan, least).astype(margins.dtype)


class Part(NamedTuple):
    """One of a check's margins by place: `least`, `least_soft (r,k)`, the share of rides that may
    break it, its family. Row 0 is the undisturbed ride; +inf where it does not apply."""

    least: Floats
    least_soft: Floats
    share: float
    family: Family

    def codes(self, *, proving: bool = True) -> Codes:
        """`(k,)` verdict codes: the shot's rule applied to the rides near each place."""
        hard, soft = self.least, self.least_soft
        flags = hard < 0.0, np.isnan(hard), soft < 0.0
        return over_rides(self.family, *flags, self.share, proving=proving)

    @property
    def verdict(self) -> Verdict:
        """Of the rides that break it anywhere in its places."""
        return Verdict(int(self.together().codes()[0]))

    @property
    def broken(self) -> Bools:
        """`(r,)` rides that break it anywhere in its places."""
        return np.asarray((self.least < 0.0).any(axis=1))

    def together(self) -> Part:
        """All its places as one."""
        soft = np.fmin.reduce(self.least_soft, axis=1)
        return self._replace(least=worst_of(self.least, 1)[:, None], least_soft=soft[:, None])

    def at(self, rides: slice, places: slice = slice(None)) -> Part:
        """Some rides at some places."""
        return self._replace(
            least=self.least[rides, places], least_soft=self.least_soft[rides, places]
        )


def joined(parts: Sequence[Part], axis: int) -> Part:
    """More rides (axis 0) or more places (1) of the same margin."""
    return parts[0]._replace(
        least=np.concatenate([p.least for p in parts], axis=axis),
        least_soft=np.concatenate([p.least_soft for p in parts], axis=axis),
    )
