"""What a check is, and what it returns: signed margins and the words for them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Literal, NamedTuple, SupportsIndex

import numpy as np
from numpy.typing import NDArray

from shotplan.model.arrays import Array
from shotplan.model.verdict import Family, Verdict
from shotplan.scene.needs import Need
from shotplan.scene.scene import Scene

UNKNOWN_GROUND = "unknown ground"  # a `thing`: not known whether anything is in the way
OWN = "CHECK"  # what a check is called in its file
AGAINST = "{value}, {limit}"  # how a number is shown: `0.6 m, needs 2.2 m`


Group = Literal["place", "wind and light", "people", "crew", "aircraft"]
RemarkKind = Literal["", "limit", "table"]


class Remark(NamedTuple):
    """Something to say beside the number; `caution` makes the finding at least that, and then
    `advice` says what would lift it. `kind`: the parts of a `limit`, much the same for every
    shot; the `table` that the advice points to. `short`: the same with its number in a few words,
    where it is not what stands before the first semicolon."""

    text: str
    caution: bool = False
    source: str = ""
    advice: str = ""
    kind: RemarkKind = ""
    short: str = ""

    @property
    def said(self) -> str:
        """It in a few words, which stand alone."""
        return self.short or self.text.partition("; ")[0]


class GoIf(NamedTuple):
    """The limit an input must keep for the finding to be go: `key` in site.toml, for example
    `weather.gust_m_s`, stays at or under (`at-most`) or at or over (`at-least`) `value`, or is
    `word` (`is`); `given` are other keys that are missing too and the values they are then
    taken at."""

    key: str
    bound: Literal["at-most", "at-least", "is"]
    value: float
    unit: str
    given: tuple[tuple[str, float | str], ...] = ()
    word: str = ""

    @property
    def text(self) -> str:
        """`go if weather.gust_m_s stays at or under 8.1 m/s`."""
        also = "".join(f", with {key} = {value}" for key, value in self.given)
        if self.bound == "is":
            return f'go if {self.key} is "{self.word}"{also}'
        side = "at or under" if self.bound == "at-most" else "at or over"
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
    advice: str = "nothing to change"
    go_if: tuple[GoIf, ...] = ()


Why = Callable[[int, Verdict], Words]


@dataclass(frozen=True, kw_only=True)
class Margin:
    """Signed margins: positive is safe; NaN unknown; +inf does not apply.

    `margin`, `soft` broadcast to (r,n); breaking `soft` is only a caution, told apart from the
    limit where its threshold is its own (`soft_value (n,)`: of another number than `value`).
    `value`, `limit (n,)` and `thing (n,)` (what decides, "" none) are row 0's. `why(i, verdict)`
    words the sample i that decides. `family`, `unit` override the check's own where this margin is
    another kind. `share` is the allowed share of rides that may break it.
    """

    margin: Array
    value: Array
    limit: Array
    thing: NDArray[np.object_]
    why: Why
    soft: Array | None = None
    soft_value: Array | None = None
    family: Family | None = None
    unit: str | None = None
    share: float = 0.01
    remarks: tuple[Remark, ...] = ()
    assumptions: tuple[str, ...] = ()
    drawings: tuple[Drawing, ...] = ()
    source: str = ""


def even(
    scene: Scene, margin: float, why: Why, *, value: float = np.nan, limit: float = np.nan,
    thing: str = "", soft: float | None = None, source: str = "",
) -> Margin:  # fmt: skip
    """A margin that is the same at every sample."""
    n = scene.track.ride.t_s.size
    return Margin(
        margin=np.full(n, margin),
        soft=None if soft is None else np.full(n, soft),
        value=np.full(n, value),
        limit=np.full(n, limit),
        thing=np.full(n, thing, dtype=object),
        why=why,
        source=source,
    )


class Told(NamedTuple):
    """A check in the words of somebody who watches: what is `wrong` where it is broken, and when
    it may come to that where it is go (`strays`, "" hardly ever). `{thing}` is what decides it,
    by its own name or by `name`. `wrong_by`: a margin's `thing` and other words where that
    decides it and is wrong in another way; `wary_by` likewise, where that is only a caution."""

    wrong: str
    strays: str
    name: str = ""
    wrong_by: tuple[tuple[str, str], ...] = ()
    wary_by: tuple[tuple[str, str], ...] = ()

    def wrong_of(self, thing: str, verdict: Verdict = Verdict.NO_GO) -> str:
        """What is wrong where a thing decides it."""
        wary = dict(self.wary_by) if verdict == Verdict.CAUTION else {}
        return {**dict(self.wrong_by), **wary}.get(thing, self.wrong)


class Nature(NamedTuple):
    """What kind of question a check is.

    `hits`: in metres from bodies (things, ground, rider) or from people, wherever in their area;
    `placed`: tight at a place on the way, where a picture can show it and before which a call of
    stop helps; `by_style`: another style may have another answer; `searched`: whether candidates
    of a search are asked it, once or for each way people stand.
    """

    hits: Literal["bodies", "people", "nothing"]
    placed: bool
    by_style: bool
    searched: Literal["never", "once", "by stands"]


def _own(home: str) -> Any:
    return getattr(import_module(home), OWN)


@dataclass(frozen=True, kw_only=True)
class Check:
    """A question asked of every scene, and all that is said of it anywhere.

    `group`: what a caution of it is about; `shown`: how a number in its own `unit` is read, from
    `{value}`, `{limit}` (`needs 2.2 m`) and `{spare}` (`3.1 dB to spare`); `binds`: whether more
    ("at-least") or less ("at-most") than the limit is safe. `rides` "first": no ride changes it;
    `pointwise`: a sample's margin never depends on the samples beside it;
    `sheet`: where its drawings lie on the map, if not with those of the others. `wind`: how the
    re-check on the hill asks it in another wind (`aids/recheck_wind.py`): not at all ("none": the
    wind is nothing to it as long as the flight stays the same), as it is by mean and "gust", or by
    a short cut of its "own". `on_terrain`: its numbers rest on the terrain, so that what the
    terrain rests on is said under them. `lifts`: what would have to be otherwise where it refuses
    every style ("" as its advice says). `needs`: what must be said for it to know. `callers`: it
    counts the tight places before which nobody can call stop (`judging/marks.py`). `waits`: what
    its advice names is waited for or carried (a wind, an hour), not flown otherwise: what would be
    flown otherwise is only said once it was.
    """

    id: str
    family: Family
    group: Group
    question: str
    unit: str
    shown: str
    told: Told
    nature: Nature
    margins: Callable[[Scene], tuple[Margin, ...]]
    wind: Literal["none", "gust", "own"]
    rides: Literal["all", "first"] = "all"
    pointwise: bool = True
    binds: Literal["at-least", "at-most"] = "at-least"
    sheet: Literal["", "falls", "ways home"] = ""
    lifts: str = ""
    needs: tuple[Need, ...] = ()
    on_terrain: bool = True
    callers: bool = False
    waits: bool = False

    def __reduce_ex__(self, protocol: SupportsIndex) -> Any:
        """In another process it is that process's own, by the file it stands in, and no copy."""
        home = self.margins.__module__
        if getattr(import_module(home), OWN, None) is self:
            return _own, (home,)
        return super().__reduce_ex__(protocol)

    @property
    def titled(self) -> str:
        """`pace (does it keep up?)`."""
        return f"{self.id} ({self.question})"
