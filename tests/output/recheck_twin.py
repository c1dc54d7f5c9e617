"""The rule of the panel once more, in Python: it reads the same block as `recheck.js`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

GO, UNKNOWN, NO_GO = 0, 2, 3
HAIR = 1e-9


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What is entered; None nothing, NaN something that is no number. `side` 0 to 15 from north,
    `time` in minutes since midnight, `paced` metres of each of the table's things, `held` whether
    somebody stands at each of its held places."""

    side: int | None = None
    mean: float | None = None
    gust: float | None = None
    height: str = "open"
    time: float | None = None
    paced: Sequence[float | None] = ()
    held: Sequence[bool] = ()

    def json(self) -> dict[str, Any]:
        """As the script has it."""
        return {
            "from": self.side,
            "mean": self.mean,
            "gust": self.gust,
            "height": self.height,
            "time": self.time,
            "paced": list(self.paced),
            "held": list(self.held),
        }


def word(table: Mapping[str, Any], shot: Mapping[str, Any], entry: Entry) -> int:
    """The verdict code of a shot."""
    found = [shot["word"], wind(shot, entry), time(table, shot, entry.time)]
    found += [GO if stands else UNKNOWN for stands in entry.held]
    found += [pace(p, entry.paced[p[0]]) for p in shot["pace"]]
    return int(max(code for code in found if code is not None))


def wind(shot: Mapping[str, Any], entry: Entry) -> int | None:
    """None where no wind was entered."""
    if entry.side is None and entry.mean is None and entry.gust is None:
        return None
    if entry.side is None or entry.mean is None or entry.gust is None:
        return UNKNOWN
    if not (entry.mean >= 0.0 and entry.gust >= 0.0):
        return UNKNOWN
    digits, columns = shot[entry.height][entry.side], shot["gusts"]
    rows = len(digits) // columns
    gust = max(entry.gust, entry.mean)
    i, j = math.ceil(entry.mean - HAIR), math.ceil(gust - HAIR)
    code = int(digits[min(i, rows - 1) * columns + min(j, columns - 1)])
    if i >= rows or j >= columns:
        code = max(code, UNKNOWN)
    for least, limit in zip((1, UNKNOWN), shot["push"][entry.side], strict=True):
        if limit is not None and gust - entry.mean > limit + HAIR:
            code = max(code, least)
    return code


def time(table: Mapping[str, Any], shot: Mapping[str, Any], minutes: float | None) -> int | None:
    """None where no time was entered."""
    if minutes is None:
        return None
    off = minutes - shot["start"]
    off += -1440.0 if off > 720.0 else 1440.0 if off < -720.0 else 0.0
    if not abs(off) <= table["reach"]:
        return UNKNOWN
    at = (off + table["reach"]) / table["step"]
    return max(int(shot["times"][math.floor(at)]), int(shot["times"][math.ceil(at)]))


def pace(limits: Sequence[Any], metres: float | None) -> int | None:
    """None where nothing was paced."""
    if metres is None:
        return None
    _, near, far, least, most = limits
    if not metres >= 0.0:
        return UNKNOWN
    if metres < least or (most is not None and metres > most):
        return NO_GO
    return UNKNOWN if metres < near or metres > far else 0
