"""strip-A.png, strip-B.png, ...: one shot along the ride, what all checks say together, then each
that is not go throughout with its number, its limit and its worst place; the others in one row.

Read at phone width. Names from files are text only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.output import look, measures, paper, reasons, words
from shotplan.output.lettering import SMALL, cut, wide
from shotplan.output.look import WIDE
from shotplan.output.strip import key, strip
from shotplan.output.strip.curve import Curve, curve, unit_line
from shotplan.output.strip.verdict_strip import clock, rows

EDGE, SCALE = 15.0, 24.0  # of the page, and of the numbers at its right
LEFT, RIGHT = EDGE, WIDE - EDGE - SCALE
HEAD, LANES, LANE = 46.0, 2, 14.0
BAR, PLOT, TITLE = 11.0, 52.0, 34.0
SECOND, RULE, BEYOND = "#3b4148", "#b9b7a8", "#e7e3d6"
NOTES = (
    "Circle: the worst place of the undisturbed ride. Filled: beyond the dashed limit.",
    "Thin line: the worst of all rides at each place. Dotted: where go ends.",
)


def output(plan: Plan) -> dict[str, bytes]:
    """A page a shot."""
    return {f"strip-{words.letter(i)}.png": png(plan, i) for i in range(len(plan.shots))}


def png(plan: Plan, index: int) -> bytes:
    """One shot; the same plan gives the same bytes."""
    axes, high = _page(plan, index)
    drawn = paper.pixels(axes.figure)[: round(2.0 * high)]
    return paper.packed(paper.footed(drawn, words.made(plan.outing)))


def told(shot: ShotPlan) -> tuple[Finding, ...]:
    """What is not go throughout, worst first."""
    return tuple(shot.finding(row.label) for row in rows(shot)[1:])


class _Page:
    """From metres of the ride to the sheet, and down it."""

    def __init__(self, axes: Any, shot: ShotPlan) -> None:
        self.axes, self.shot, self.y = axes, shot, 0.0
        self.from_m = shot.ride_from_m
        self.to_m = max(shot.ride_to_m, shot.ride_from_m + 1.0)

    def x(self, at_m: Any) -> Any:
        share = (np.asarray(at_m) - self.from_m) / (self.to_m - self.from_m)
        return LEFT + np.clip(share, 0.0, 1.0) * (RIGHT - LEFT)

    def bar(self, cells: Sequence[strip.Cell]) -> None:
        """Words along the ride, each by its own line."""
        for cell in cells:
            left, right = float(self.x(cell.from_m)), float(self.x(cell.to_m))
            if right > left:
                key.line(self.axes, left, right, self.y, cell.verdict)
        paper.box(self.axes, LEFT, self.y, RIGHT - LEFT, BAR, facecolor="none",
                  edgecolor=look.INK, linewidth=1.2, zorder=3.0)  # fmt: skip
        self.y += BAR


def _page(plan: Plan, index: int) -> tuple[Any, float]:
    """The page, and how far down it is written."""
    shot, letter = plan.shots[index], words.letter(index)
    found = told(shot)
    calls = [c for c in last_calls(shot, plan.marks) if not c.before_start]
    most = HEAD + LANES * LANE + 210.0 + len(found) * (TITLE + PLOT + BAR + 14.0)
    axes = paper.sheet(WIDE, round(most))
    page = _Page(axes, shot)
    _head(axes, shot, letter)
    page.y = HEAD + LANES * LANE + 4.0
    _title(page, "All together")
    page.y += 18.0
    page.bar(rows(shot)[0].cells)
    for call in calls:
        _flag(page, float(page.x(call.mark_m)), call.code(letter))
    page.y += 22.0 if calls else 6.0
    pins = words.pins(shot, letter)
    for one, row in zip(found, rows(shot)[1:], strict=True):
        _row(page, one, curve(shot, one), row.cells, pins.get(one.check, ""))
    _others(page, shot, found)
    _landmarks(page, plan, HEAD, page.y)
    _scale(page)
    for k, text in enumerate(NOTES):
        paper.write(axes, EDGE, page.y + 6.0 + 13.0 * k, text, size=8.5, ink=SECOND)
    return axes, page.y + 13.0 * len(NOTES) + 4.0


def _head(axes: Any, shot: ShotPlan, letter: str) -> None:
    left = EDGE + wide(letter, 20.0, bold=True) + 10.0
    word = key.chip(axes, WIDE - EDGE, 7.0, shot.verdict, size=12.0)
    name, size, room = words.plain(shot.scene.shot.name), 14.0, word - left - 8.0
    while size > 10.5 and wide(name, size, bold=True) > room:
        size -= 0.5
    paper.write(axes, EDGE, 16.0, letter, size=20.0, bold=True)
    paper.write(axes, left, 16.0, cut(name, room, size=size, bold=True), size=size, bold=True)
    sub = f"{shot.ride_from_m:.0f} to {shot.ride_to_m:.0f} m of the ride, {shot.duration_s:.0f} s"
    paper.write(axes, EDGE, 37.0, sub, size=SMALL, ink=SECOND)


def _landmarks(page: _Page, plan: Plan, top: float, low: float) -> None:
    """Names in two lanes, with a line down through the rows."""
    marks = sorted(strip.pointed_at(plan.marks), key=lambda m: (m.worth, m.at_m, m.text))
    here = [m for m in marks if page.from_m <= m.at_m <= page.to_m]
    names = [(m.text, float(page.x(m.at_m))) for m in here]
    for one in paper.lanes(names, (EDGE, WIDE - EDGE), most=0.4 * WIDE, order=(1, 0), gap=8.0):
        at, y = names[one.number][1], top + (one.lane + 0.5) * LANE
        paper.write(page.axes, one.left, y, one.text, size=SMALL)
        page.axes.plot([at, at], [y + 7.0, low], color="#8a8678", linewidth=0.8,
                       linestyle=(0, (2, 3)), zorder=2.5)  # fmt: skip


def _title(page: _Page, text: str, *, second: str = "", dashed: bool = False) -> None:
    """A row's name, and under it what its numbers are."""
    room = WIDE - 2.0 * EDGE - 86.0
    paper.write(page.axes, EDGE, page.y + 9.0, cut(text, room, size=11.5, bold=True), size=11.5,
                bold=True, box=look.PAPER, zorder=4.0)  # fmt: skip
    if second:
        left = EDGE + (24.0 if dashed else 0.0)
        if dashed:
            page.axes.plot([EDGE, EDGE + 18.0], [page.y + 25.0] * 2, color=look.INK, linewidth=1.4,
                           linestyle=(0, (4, 2)), zorder=4.0)  # fmt: skip
        paper.write(page.axes, left, page.y + 25.0, cut(second, WIDE - EDGE - left, size=10.5),
                    size=10.5, ink=SECOND, box=look.PAPER, zorder=3.8)  # fmt: skip


def _flag(page: _Page, x: float, text: str) -> None:
    """A call: a black flag on a staff where the rider is."""
    long, y = wide(text, SMALL, bold=True) + 8.0, page.y + 4.0
    left = min(x, WIDE - EDGE - long - 6.0)
    across = left + np.array([0.0, long, long + 6.0, long, 0.0])
    page.axes.fill(across, y + np.array([0.0, 0.0, 6.5, 13.0, 13.0]), color=look.INK, zorder=5.0)
    page.axes.plot([x, x], [y - 3.0, y + 16.0], color=look.INK, linewidth=2.0, zorder=5.0)
    paper.write(page.axes, left + 4.0, y + 6.5, text, size=SMALL, bold=True, ink="white",
                zorder=6.0)  # fmt: skip


def _rule(page: _Page) -> None:
    page.axes.plot([EDGE, WIDE - EDGE], [page.y] * 2, color=RULE, linewidth=1.0, zorder=2.6)
    page.y += 3.0


def _row(
    page: _Page, found: Finding, drawn: Curve | None, cells: Sequence[strip.Cell], pin: str
) -> None:
    """Its question, its numbers, its words."""
    _rule(page)
    key.chip(page.axes, WIDE - EDGE, page.y + 1.0, found.verdict, size=9.5)
    question = found.of.question
    if drawn is None:
        _title(page, question)
        unknown = found.verdict == Verdict.UNKNOWN
        told = words.plain(found.reason)
        said = told if unknown else reasons.reason(found, page.shot.scene.site)
        lines = paper.wrapped(f"{pin} {said}".strip(), RIGHT - LEFT, size=10.5, lines=2)
        for k, text in enumerate(lines):
            paper.write(page.axes, EDGE, page.y + 26.0 + 15.0 * k, text, size=10.5, ink=SECOND,
                        box=look.PAPER)  # fmt: skip
        page.y += 22.0 + 15.0 * len(lines)
    else:
        _title(page, question, second=unit_line(found, drawn), dashed=True)
        page.y += TITLE
        _plot(page, found, drawn, pin)
        page.y += PLOT
    page.bar(cells)
    page.y += 10.0


def _plot(page: _Page, found: Finding, drawn: Curve, pin: str) -> None:
    """The number along the ride, its limit, what lies beyond it, where it is worst."""
    top, axes = page.y, page.axes

    def y(value: Any) -> Any:
        share = (np.asarray(value) - drawn.low) / (drawn.high - drawn.low)
        return top + PLOT - np.clip(share, 0.0, 1.0) * PLOT

    x = page.x(drawn.along_m)
    paper.box(axes, LEFT, top, RIGHT - LEFT, PLOT, facecolor="white", linewidth=0.0, zorder=0.6)
    ends = np.where(np.isfinite(drawn.limit), drawn.limit, np.nan)
    bad = top + PLOT if drawn.least else top
    axes.fill_between(x, y(ends), bad, color=BEYOND, linewidth=0.0, zorder=0.7)
    worse = drawn.value < ends if drawn.least else drawn.value > ends
    axes.fill_between(x, y(ends), y(drawn.value), where=worse, zorder=1.0, linewidth=0.0,
                      color=look.VERDICTS[max(found.verdict, Verdict.CAUTION)].line
                      if found.verdict != Verdict.UNKNOWN else "#7d7f80")  # fmt: skip
    axes.plot(x, y(ends), color=look.INK, linewidth=1.4, linestyle=(0, (4, 2)), zorder=3.0)
    if np.isfinite(drawn.soft):
        axes.plot([LEFT, RIGHT], [float(y(drawn.soft))] * 2, color=look.INK, linewidth=1.2,
                  linestyle=(0, (1, 2)), zorder=3.0)  # fmt: skip
    axes.plot(page.x(drawn.metres), y(drawn.worst), color=look.INK, linewidth=0.7, zorder=3.0)
    seen = np.where((drawn.value >= drawn.low) & (drawn.value <= drawn.high), drawn.value, np.nan)
    axes.plot(x, y(seen), color=look.INK, linewidth=2.2, zorder=3.2)
    step = say.round_step((drawn.high - drawn.low) / 3.5)
    for value in np.arange(math.ceil(drawn.low / step) * step, drawn.high, step).tolist():
        at = float(y(value))
        axes.plot([RIGHT, RIGHT + 4.0], [at, at], color=look.INK, linewidth=1.0)
        paper.write(axes, RIGHT + 6.0, at, f"{value + 0.0:g}", size=8.5)
    _worst(page, found, y, pin)


def _worst(page: _Page, found: Finding, y: Any, pin: str) -> None:
    """A circle at the worst place, with its code and number."""
    from matplotlib.patheffects import Normal, Stroke

    one = found.told
    if one.at is None or one.value is None or one.unit != found.unit:
        return
    value = one.value * (100.0 if one.unit.startswith("of ") else 1.0)
    x, at = float(page.x(one.at.ride_m)), float(y(value))
    if page.y + 1.0 < at < page.y + PLOT - 0.5 or value == 0.0:  # else beyond what is shown
        page.axes.plot([x], [at], "o", color="white", markersize=6.5, mec=look.INK, mew=1.8,
                       zorder=6.0)  # fmt: skip
    unit = "%" if one.unit.startswith("of ") else one.unit
    said = f"{pin} {measures.amount(value, unit, 100.0 if unit == '%' else None)}".strip()
    right = x > 0.6 * WIDE
    high = min(max(at - 1.0, page.y + 8.0), page.y + PLOT - 8.0)
    paper.write(page.axes, x + (-8.0 if right else 8.0), high, said, size=10.5, bold=True,
                align="right" if right else "left", zorder=7.0,
                path_effects=[Stroke(linewidth=3.0, foreground="white"), Normal()])  # fmt: skip


def _others(page: _Page, shot: ShotPlan, found: Sequence[Finding]) -> None:
    """All that is go throughout, and what of it is nearest to its limit."""
    rest = [f for f in shot.findings if f not in found]
    if not rest:
        return
    _rule(page)
    near = [f for f in rest if f.margin is not None and f.limit and f.of.nature.placed]
    head = f"{len(rest)} other{'s' * (len(rest) != 1)}"
    said = "go all the way"
    if near:
        least = min(near, key=lambda f: ((f.margin or 0.0) / abs(f.limit or 1.0), f.check))
        said += f"; nearest: {least.of.question} {measures.distance(least, least.own)}"
    left = EDGE + wide(head, 11.5, bold=True) + 8.0
    paper.write(page.axes, EDGE, page.y + 9.0, head, size=11.5, bold=True, box=look.PAPER)
    lines = paper.wrapped(said, WIDE - EDGE - left, size=SMALL, lines=2)
    for k, text in enumerate(lines):
        paper.write(page.axes, left, page.y + 9.0 + 13.0 * k, text, size=SMALL, box=look.PAPER)
    page.y += 19.0 + 13.0 * (len(lines) - 1)
    page.bar((strip.Cell(shot.ride_from_m, shot.ride_to_m, Verdict.GO),))
    page.y += 4.0


def _scale(page: _Page) -> None:
    """Metres of the ride, and seconds."""
    ticks, y = clock(page.shot), page.y
    page.axes.plot([LEFT, RIGHT], [y, y], color=look.INK, linewidth=1.6)
    step = say.round_step((page.to_m - page.from_m) / 5.0)
    first = math.ceil(page.from_m / step - 1e-9) * step
    for at in np.arange(first, page.to_m + 1e-6, step).tolist():
        x = float(page.x(at))
        page.axes.plot([x, x], [y, y + 4.0], color=look.INK, linewidth=1.2)
        align = "left" if x < LEFT + 16.0 else "center"
        seconds = float(np.interp(at, ticks.along_m, ticks.time_s))
        paper.write(page.axes, x, y + 12.0, f"{at:.0f} m", size=SMALL, bold=True, align=align)
        paper.write(page.axes, x, y + 24.5, f"{seconds:.0f} s", size=SMALL, align=align)
    page.y += 34.0
