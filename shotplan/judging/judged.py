"""What is kept of a check's margins (Finding), up to the whole Plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from html import escape
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.files.words import listed, one_line, shown
from shotplan.judging.corridor import Corridor
from shotplan.judging.verdicts import Part
from shotplan.model.arrays import Array
from shotplan.model.change import Mended
from shotplan.model.flight import Track
from shotplan.model.verdict import Family, Verdict
from shotplan.outing import Outing
from shotplan.scene.landmarks import Landmark
from shotplan.scene.margin import Check, Drawing, GoIf, Remark
from shotplan.scene.scene import Scene
from shotplan.scene.timeline import Slot


class Spot(NamedTuple):
    """The place of a finding. Heights NaN unknown."""

    sample: int
    time_s: float
    ride_m: float
    xyz_m: tuple[float, float, float]
    height_above_launch_m: float
    height_m: float
    surface_m: float


class Also(NamedTuple):
    """What of a finding is not go, with its own numbers, thing and place; `ride` whose they are.
    `short` is a remark in a few words, with what numbers it has ("" it is none)."""

    verdict: Verdict
    value: float | None
    limit: float | None
    margin: float | None
    unit: str
    thing: str
    at: Spot | None
    reason: str
    advice: str
    ride: int = 0
    short: str = ""


def remarked(remark: Remark, advice: str) -> Also:
    """A caution that is a remark: it has its own words and none of the limit's numbers."""
    none, text = (None, None, None), remark.text
    return Also(Verdict.CAUTION, *none, "", "", None, text, advice, short=remark.said)


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One per check (`of` it) and shot, `go` included. `value`, `limit`, `margin` of the
    limit at its tightest place, None where unknown or nothing applies: those of ride number
    `ride`; `by_limit` its word. `also` what else is not go, worst first. Row 0's `margins`,
    `softs`, `values`, `limits`, `things`, `soft_things (n,)`; `sample_codes (n,)` its verdict (as
    int) at each sample, `metre_codes (k,)` that of all rides at each metre; `least`, `least_soft
    (r,k)` each ride's least while the rider is within 5 m of metre k, all `parts` together;
    `rides_breaking` of the disturbed ones (of the one, where only one was flown)."""

    of: Check
    family: Family
    verdict: Verdict
    value: float | None
    limit: float | None
    margin: float | None
    unit: str
    thing: str
    at: Spot | None
    reason: str
    advice: str
    source: str
    assumptions: tuple[str, ...]
    remarks: tuple[Remark, ...]
    rides_breaking: int
    share_bound: float | None
    margins: Array
    softs: Array
    values: Array
    limits: Array
    things: NDArray[np.object_]
    sample_codes: NDArray[np.int8]
    metre_codes: NDArray[np.int8]
    least: NDArray[np.float32]
    least_soft: NDArray[np.float32]
    soft_things: NDArray[np.object_] | None = None
    ride: int = 0
    by_limit: Verdict = Verdict.GO
    also: tuple[Also, ...] = ()
    parts: tuple[Part, ...] = ()
    go_if: tuple[GoIf, ...] = ()
    drawings: tuple[Drawing, ...] = ()

    @property
    def check(self) -> str:
        """The id of the check."""
        return self.of.id

    @property
    def told(self) -> Also:
        """The numbers and place its word rests on: the limit's, or of what else is not go where
        that is worse. A remark has no place of its own: it is shown where the limit is nearest."""
        if self.verdict == self.by_limit:
            return self.own
        deciding = [one for one in self.also if one.verdict == self.verdict]
        placed = [one for one in deciding if one.at]
        remarks = [one._replace(at=self.at) for one in deciding if one.short]
        return next(iter((*placed, *remarks)), self.own)

    @cached_property
    def own(self) -> Also:
        """Its limit alone."""
        word = self.by_limit if self.also else self.verdict
        return Also(
            word, self.value, self.limit, self.margin, self.unit, self.thing, self.at,
            self.reason, self.advice, self.ride,
        )  # fmt: skip

    def thing_at(self, sample: int) -> str:
        """What decides it at a sample of row 0."""
        softly = self.softs[sample] < 0.0 <= self.margins[sample]
        named = self.things if self.soft_things is None or not softly else self.soft_things
        return str(named[sample])


class Stretch(NamedTuple):
    """A run of the ride with one verdict; `binding` the check that decides, `margin` its least."""

    from_m: float
    to_m: float
    verdict: Verdict
    binding: str
    margin: float | None


@dataclass(frozen=True, kw_only=True)
class ShotPlan:
    """One shot judged. `scene` is row 0's; `sample_verdict (n,)` the merged verdict code of each
    sample (Verdict as int), `sample_binding (n,)` index into findings of what decides there
    (-1 where all is go); `combined` what to say of cautions of more than one kind ("" fewer);
    `rides` the disturbed ones that were flown (1: only the undisturbed one); `corridor` where the
    aircraft is over all rides (None: only one was); `mended` what would make it better (None:
    nobody looked)."""

    scene: Scene
    verdict: Verdict
    findings: tuple[Finding, ...]
    stretches: tuple[Stretch, ...]
    sample_verdict: NDArray[np.int8]
    sample_binding: NDArray[np.int8]
    rides: int
    ride_from_m: float
    ride_to_m: float
    duration_s: float
    combined: str = ""
    corridor: Corridor | None = None
    mended: Mended | None = None

    @property
    def name(self) -> str:
        """As the site file has it."""
        return self.scene.shot.name

    @property
    def track(self) -> Track:
        """The undisturbed flight, one row."""
        return self.scene.track

    @property
    def binding(self) -> Finding | None:
        """The first finding that decides the verdict; None where all is go."""
        worst = (f for f in self.findings if f.verdict == self.verdict != Verdict.GO)
        return next(worst, None)

    def finding(self, check: str) -> Finding:
        """The finding of a check; KeyError where it did not run."""
        found = self.asked(check)
        if found is None:
            raise KeyError(f"{check}; there are {', '.join(f.check for f in self.findings)}")
        return found

    def asked(self, check: str) -> Finding | None:
        """The finding of a check; None where it did not run."""
        return next((f for f in self.findings if f.check == check), None)

    def __repr__(self) -> str:
        """One line: its verdict and how it is flown."""
        return (
            f"<shot {shown(self.name)}: {self.verdict}; {one_line(self.scene.shot.style.words())}>"
        )


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The whole answer; `timeline` the day in order; `marks` what can be pointed at along the
    ride."""

    outing: Outing
    shots: tuple[ShotPlan, ...]
    verdict: Verdict
    version: str
    cautions: tuple[str, ...] = field(default=())
    timeline: tuple[Slot, ...] = ()
    marks: tuple[Landmark, ...] = ()

    def __getitem__(self, name: str) -> ShotPlan:
        """The shot of that name; KeyError lists those there are."""
        for shot in self.shots:
            if shot.name == name:
                return shot
        raise KeyError(f"{shown(name)}; there are {listed((s.name for s in self), 'and')}")

    def __iter__(self) -> Iterator[ShotPlan]:
        """The shots, in the order they are flown."""
        return iter(self.shots)

    def __repr__(self) -> str:
        """One line: the site, its verdict, those of the shots."""
        each = ", ".join(f"{shown(s.name)} {s.verdict}" for s in self.shots)
        return f"<plan of {shown(self.outing.site.name)}: {self.verdict}; {each}>"

    def __str__(self) -> str:
        """The site and its verdict; a line for each shot with what decides it."""
        lines = [f"{name}: {verdict}{why and f'; {why}'}" for name, verdict, why in self._rows()]
        return "\n  ".join([f"{one_line(self.outing.site.name)}: {self.verdict}", *lines])

    def _repr_html_(self) -> str:
        """The same as a table, for a notebook. Names come from files: every cell is escaped."""
        rows = [("shot", "verdict", "what decides"), *self._rows()]
        cells = ["".join(f"<td>{escape(cell)}</td>" for cell in row) for row in rows]
        return f"<table>{''.join(f'<tr>{row}</tr>' for row in cells)}</table>"

    def _rows(self) -> Iterator[tuple[str, str, str]]:
        """Of each shot name, word, and what decides ("" nothing does)."""
        for shot in self.shots:
            found = shot.binding
            why = "" if found is None else one_line(f"{found.check}: {found.reason}")
            yield one_line(shot.name), shot.verdict.word, why
