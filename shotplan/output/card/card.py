"""card.pdf: what one looks at on the hill, printed, A5, black on white; and, from `phone`, the card
of each shot for the phone.

Up to four shots a page, then more pages. Settings, limits, what to pace, last
calls, what it does when left alone, the words to call. Names from files are text only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.output import paper
from shotplan.output.calls import CALLS
from shotplan.output.card import phone
from shotplan.output.card.words import Card, Dial, ShotCard, card
from shotplan.output.lettering import cut, wide
from shotplan.scene.wind_limits import SIDES

WIDE, HIGH = 148.0 / 25.4 * 72.0, 210.0 / 25.4 * 72.0  # A5, points
DPI = 200
EDGE = 17.0
ACROSS = WIDE - 2.0 * EDGE
FOOT, CREDIT = 13.0, 8.0
TYPE, PITCH = 8.2, 1.22
INK = "black"
MOST = 4  # shots on a page
TRIES = (  # last calls of each shot, size of the type: the first that has room
    *((3, 1.2), (3, 1.1), (3, 1.0), (2, 1.0), (1, 1.0)),
    *((2, 0.94), (1, 0.94), (0, 0.94), (0, 0.88), (0, 0.8), (0, 0.7)),
)


def output(plan: Plan) -> dict[str, bytes]:
    """The files' names and bytes."""
    return {"card.pdf": paper.pdf(pages(card(plan))), **phone.pictures(plan)}


def pages(said: Card) -> list[Any]:
    """One sheet for up to four shots, as many on each as go evenly."""
    count = max(1, math.ceil(len(said.shots) / MOST))
    each = math.ceil(len(said.shots) / count)
    return [
        _page(said, range(k * each, min((k + 1) * each, len(said.shots))), k + 1, count)
        for k in range(count)
    ]


def _page(said: Card, shots: range, number: int, count: int) -> Any:
    """The sheet, with as many last calls of each shot, and type as large, as there is room for."""
    for calls, scale in TRIES:
        pen = _Pen(paper.sheet(WIDE, HIGH, DPI, paper="white"), TYPE * scale)
        _head(pen, said, number, count)
        for index in shots:
            _shot(pen, said.shots[index], calls)
        _wind(pen, said, shots)
        _pace(pen, said, shots)
        _calls(pen, said)
        if pen.y <= HIGH - FOOT - (CREDIT if said.credits else 0.0):
            break
    foot = f"{said.made}. Computed; what nobody drew is not in it. It is not a permission."
    credits = cut(said.credits, ACROSS, size=5.6)
    paper.write(pen.axes, EDGE, HIGH - 9.0 - (CREDIT if credits else 0.0), foot, size=6.6, ink=INK)
    if credits:
        paper.write(pen.axes, EDGE, HIGH - 9.0, credits, size=5.6, ink=INK)
    return pen.axes


class _Pen:
    """Writes down the page, in type of one size."""

    def __init__(self, axes: Any, size: float) -> None:
        self.axes, self.y, self.size = axes, EDGE - 3.0, size

    @property
    def pitch(self) -> float:
        """From line to line."""
        return PITCH * self.size

    def line(self, text: str, *, most: int = 1) -> None:
        """Text over up to so many lines."""
        for part in paper.wrapped(text, ACROSS, size=self.size, lines=most):
            self.at(EDGE, part)
            self.y += self.pitch

    def led(self, lead: str, text: str, *, most: int = 1) -> None:
        """A bold word and what follows it, hanging."""
        room = wide(lead, self.size, bold=True) + 6.0
        for k, part in enumerate(paper.wrapped(text, ACROSS - room, size=self.size, lines=most)):
            if k == 0:
                self.at(EDGE, lead, bold=True)
            self.at(EDGE + room, part)
            self.y += self.pitch

    def at(
        self, x: float, text: str, *, size: float = 0.0, bold: bool = False, align: str = "left"
    ) -> None:
        """Text on this line."""
        paper.write(self.axes, x, self.y + self.pitch / 2.0, text, size=size or self.size,
                    bold=bold, align=align, ink=INK)  # fmt: skip

    def box(self, x: float, y: float, long: float, high: float, **pen: Any) -> None:
        """A frame."""
        paper.box(self.axes, x, y, long, high, edgecolor=INK, **pen)

    def rule(self, width: float) -> None:
        """A line across."""
        self.y += 1.5
        self.axes.plot([EDGE, WIDE - EDGE], [self.y] * 2, color=INK, linewidth=width)
        self.y += 2.0


def _head(pen: _Pen, said: Card, number: int, count: int) -> None:
    page = f"  {number}/{count}" if count > 1 else ""
    when = f"{said.when}{page}"
    pen.at(WIDE - EDGE, when, align="right")
    room = ACROSS - wide(when, pen.size) - 10.0
    pen.at(EDGE, cut(said.site, room, size=12.0, bold=True), size=12.0, bold=True)
    pen.y += 15.0
    pen.line(said.crew, most=2)
    pen.line(said.air)
    for note in said.notes:
        pen.line(note, most=2)


def _shot(pen: _Pen, shot: ShotCard, most_calls: int) -> None:
    pen.rule(1.6)
    _word(pen, shot.verdict)
    size = pen.size + 2.3
    name = cut(f"{shot.letter}  {shot.name}", ACROSS - 74.0, size=size, bold=True)
    pen.at(EDGE, name, size=size, bold=True)
    pen.y += 13.5
    pen.line(shot.style, most=2)
    _dials(pen, shot.dials)
    if shot.why:
        pen.led(f"{shot.verdict.word} by", shot.why)
    if shot.near:
        pen.led("nearest", "; ".join(shot.near), most=2)
    if shot.go_if:
        pen.led("go if", "; ".join(shot.go_if), most=2)
    if shot.first:
        pen.led("look first at", f"{shot.first}: once it runs, stop comes too late", most=2)
    left = len(shot.calls) - most_calls
    more = f"  (and {left} more, on the map)" if left > 0 else ""
    for k, call in enumerate(shot.calls[:most_calls], start=1):
        pen.led("call stop", call + more * (k == most_calls), most=2)
    if left > 0 and not most_calls:
        pen.led("call stop", f"{left} last call{'s' * (left != 1)}, on the map")


def _word(pen: _Pen, verdict: Verdict) -> None:
    """The word in a frame; black where it must not be flown."""
    long = wide(verdict.word, 10.0, bold=True) + 12.0
    black = verdict == Verdict.NO_GO
    dash = {Verdict.CAUTION: (0, (4, 2)), Verdict.UNKNOWN: (0, (1, 1.4))}.get(verdict, "solid")
    pen.box(WIDE - EDGE - long, pen.y, long, 12.6, facecolor=INK if black else "white",
            linewidth=1.3, linestyle=dash, zorder=2.0)  # fmt: skip
    paper.write(pen.axes, WIDE - EDGE - long / 2.0, pen.y + 6.2, verdict.word, size=10.0, bold=True,
                align="center", ink="white" if black else INK)  # fmt: skip


def _dials(pen: _Pen, dials: Sequence[Dial]) -> None:
    """Boxes side by side: a small label over a large value."""
    wants = [max(wide(d.value, 11.0, bold=True), wide(d.label, 6.8)) + 9.0 for d in dials]
    x, scale = EDGE, ACROSS / sum(wants)
    for dial, want in zip(dials, wants, strict=True):
        long, size = want * scale, 11.0
        pen.box(x, pen.y + 1.0, long, 22.5, facecolor="white", linewidth=0.7)
        while size > 7.0 and wide(dial.value, size, bold=True) > long - 8.0:
            size -= 0.5
        label = cut(dial.label, long - 5.0, size=6.8)
        paper.write(pen.axes, x + 4.0, pen.y + 6.0, label, size=6.8, ink=INK)
        value = cut(dial.value, long - 5.0, size=size, bold=True)
        paper.write(pen.axes, x + 4.0, pen.y + 16.2, value, size=size, bold=True, ink=INK)
        x += long
    pen.y += 25.0


def _wind(pen: _Pen, said: Card, shots: range) -> None:
    """A row a shot, a column a side; the side planned for is framed."""
    pen.rule(1.6)
    pen.led("wind", said.wind.title, most=2)
    step = (ACROSS - 16.0) / len(SIDES)
    top = pen.y
    for k, side in enumerate(SIDES):
        pen.at(EDGE + 16.0 + (k + 0.5) * step, f"from {side}", align="center", size=0.9 * pen.size)
    pen.y += pen.pitch
    for index in shots:
        letter, cells = said.wind.rows[index]
        pen.axes.plot([EDGE, WIDE - EDGE], [pen.y] * 2, color=INK, linewidth=0.4)
        pen.at(EDGE + 2.0, letter, bold=True)
        for k, cell in enumerate(cells):
            middle = EDGE + 16.0 + (k + 0.5) * step
            pen.at(middle, cell, align="center", bold=k == said.wind.planned)
        pen.y += pen.pitch
    if said.wind.planned >= 0:
        pen.box(EDGE + 16.0 + said.wind.planned * step, top, step, pen.y - top, facecolor="none",
                linewidth=1.2)  # fmt: skip
    pen.y += 1.5
    if said.wind.forces:
        pen.line(said.wind.forces, most=2)
    pen.line("measured: from ______  mean ______  gusts ______ m/s  at __:__")


def _pace(pen: _Pen, said: Card, shots: range) -> None:
    pen.rule(0.8)
    mine = [text for text, whose in said.pace if set(whose) & set(shots)]
    if not mine:
        pen.led("pace", "nothing on the map is so near that pacing it decides")
    else:
        pen.led("pace", "from the track to the trunk, pole or near wall, in this order")
    for k, text in enumerate(mine, start=1):
        pen.led(f"{k}", f"{text}: ______ m", most=2)


def _calls(pen: _Pen, said: Card) -> None:
    pen.rule(0.8)
    pen.led("left alone", said.alone, most=2)
    for call in CALLS:
        pen.led(call.word.upper(), f"{call.does}. Sign: {call.sign}", most=2)
