"""What a check is, and what it returns: signed margins and the words for them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.model.arrays import Array
from shotplan.model.verdict import Family, Verdict
from shotplan.scene.scene import Scene

UNKNOWN_GROUND = "unknown ground"  # a `thing`: not known whether anything is in the way


Group = Literal["place", "wind and light", "people", "crew", "aircraft"]


class Remark(NamedTuple):
    """Something to say beside the number; `caution` makes the finding at least that, and then
    `advice` says what would lift it."""

    text: str
    caution: bool = False
    source: str = ""
    advice: str = ""


class GoIf(NamedTuple):
    """The limit an input must keep for the finding to be go: `key` in site.toml, for example
    `weather.gust_m_s`, stays at or under (`at-most`) or at or over (`at-least`) `value`; `given`
    are other keys that are missing too and the values they are then taken at."""

    key: str
    bound: Literal["at-most", "at-least"]
    value: float
    unit: str
    given: tuple[tuple[str, float | str], ...] = ()

    @property
    def text(self) -> str:
        """`go if weather.gust_m_s stays at or under 8.1 m/s`."""
        side = "at or under" if self.bound == "at-most" else "at or over"
        also = "".join(f", with {key} = {value}" for key, value in self.given)
        return f"go if {self.key} stays {side} {self.value:g} {self.unit}{also}"


class Drawing(NamedTuple):
    """Something a check wants on the map: `outline (k, 2)` in the frame, closed if `filled`."""

    what: str
    outline: Array
    filled: bool = True


class Words(NamedTuple):
    """One plain sentence of reason, one of advice that names a number, and the limits that what
    is missing would have to keep."""

    reason: str
    advice: str
    go_if: tuple[GoIf, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Margin:
    """Signed margins: positive is safe; NaN unknown; +inf does not apply.

    `margin`, `soft` broadcast to (r,n); breaking `soft` is only a caution. `value`, `limit`
    `(n,)` and `thing (n,)` (what decides, "" none) are row 0's. `why(i, verdict)` words the
    sample i that decides. `family`, `unit` override the check's own where this margin is another
    kind.
    `share` is the allowed share of rides that may break it.
    """

    margin: Array
    value: Array
    limit: Array
    thing: NDArray[np.object_]
    why: Callable[[int, Verdict], Words]
    soft: Array | None = None
    family: Family | None = None
    unit: str | None = None
    share: float = 0.01
    remarks: tuple[Remark, ...] = ()
    assumptions: tuple[str, ...] = ()
    drawings: tuple[Drawing, ...] = ()
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class Check:
    """A question asked of every scene. `rides` "first": no ride changes it; `pointwise`: a sample's
    margin never depends on the samples beside it; `group`: what a caution of it is about;
    `wind`: how the re-check on the hill asks it in another wind (`aids/recheck_wind.py`): not at
    all ("none": the wind is nothing to it as long as the flight stays the same), as it is by the
    "mean" alone or by mean and "gust", or by a short cut of its "own"."""

    id: str
    family: Family
    question: str
    unit: str
    margins: Callable[[Scene], tuple[Margin, ...]]
    wind: Literal["none", "mean", "gust", "own"]
    rides: Literal["all", "first"] = "all"
    pointwise: bool = True
    binds: Literal["at-least", "at-most"] = "at-least"
    group: Group = "place"
