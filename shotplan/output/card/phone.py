"""card-A.png, card-B.png, ...: one shot for the photo album of the pilot's phone.

The cut at its tightest place, six settings, from where to where, what must hold, calls, what it
does when left alone, when all stop. Upright, 1080 by 1920; lengths are half pixels of that.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.model.verdict import Verdict
from shotplan.output import look, paper
from shotplan.output.card.cut import PICTURE, draw
from shotplan.output.card.phone_words import Called, PhoneCard, phone_card
from shotplan.output.card.words import Dial
from shotplan.output.lettering import cut, wide

WIDE, HIGH = 540.0, 960.0
EDGE = 20.0
ACROSS = WIDE - 2.0 * EDGE
LETTER, NAME, WORD, NUMBER = 52.0, 24.0, 26.0, 27.0
HEAD, BODY, LABEL, LEAST = 18.0, 18.0, 15.0, 14.5
PITCH = 1.28
SECOND = "#3b4148"
CHIP_GO = "#1f6f9c"  # under white words
CELL = 68.0
FOOT, CREDIT, LEAST_CREDIT = 22.0, 8.0, 11.0
NOTICE = "computed, no permission"
SCALES = (1.12, 1.06, 1.0, 0.95, 0.9, 0.85, 0.81)  # of type in the body: the first that has room


def pictures(plan: Plan) -> dict[str, bytes]:
    """Names and bytes, one a shot."""
    cards = [phone_card(plan, index) for index in range(len(plan.shots))]
    sheets = (page(plan, index, said) for index, said in enumerate(cards))
    names = (f"card-{said.letter}.png" for said in cards)
    return {n: paper.png(axes.figure, colours=64) for n, axes in zip(names, sheets, strict=True)}


def page(plan: Plan, index: int, said: PhoneCard) -> Any:
    """The card of one shot, in type as large as there is room for."""
    axes = paper.sheet(WIDE, HIGH, paper="white")
    top = _head(axes, said)
    draw(axes, plan.shots[index], top)
    rows = _settings(axes, said.dials, top + PICTURE)
    foot = FOOT + (CREDIT if said.credits else 0.0)
    for scale in SCALES:
        if _Pen(None, rows, scale).whole(said) <= HIGH - foot - 8.0:
            break
    _Pen(axes, rows, scale).whole(said)
    paper.write(axes, EDGE, HIGH - foot, NOTICE, size=LEAST, ink=SECOND)
    room = ACROSS - wide(NOTICE, LEAST) - 14.0
    paper.write(axes, WIDE - EDGE, HIGH - foot, cut(said.made, room, size=LEAST), size=LEAST,
                ink=SECOND, align="right")  # fmt: skip
    if credits := cut(said.credits, ACROSS, size=LEAST_CREDIT):
        paper.write(axes, EDGE, HIGH - 12.0, credits, size=LEAST_CREDIT, ink=SECOND)
    return axes


def _head(axes: Any, said: PhoneCard) -> float:
    """Letter, name, word; where the picture begins."""
    letter = wide(said.letter, LETTER, bold=True)
    paper.write(axes, EDGE, 46.0, said.letter, size=LETTER, bold=True)
    word = _chip(axes, said.verdict)
    left = EDGE + letter + 14.0
    size, room = NAME, word - left - 10.0
    while size > 18.0 and len(paper.wrapped(said.name, room, size=size, bold=True)) > 2:
        size -= 1.0
    lines = paper.wrapped(said.name, room, size=size, bold=True, lines=2)
    for k, line in enumerate(lines):
        y = 46.0 if len(lines) == 1 else 30.0 + 29.0 * k
        paper.write(axes, left, y, line, size=size, bold=True)
    place = cut(said.place, ACROSS, size=LABEL)
    paper.write(axes, EDGE, 92.0, place, size=LABEL, ink=SECOND)
    return 110.0


def _chip(axes: Any, verdict: Verdict) -> float:
    """The word on its colour; where it begins."""
    fill = CHIP_GO if verdict == Verdict.GO else look.VERDICTS[verdict].line
    fill = look.INK if verdict == Verdict.UNKNOWN else fill
    ink = look.INK if verdict == Verdict.CAUTION else "white"
    word = f"✕ {verdict.word}" if verdict == Verdict.NO_GO else verdict.word
    size = WORD if verdict == Verdict.GO else 21.0
    long, high, top = wide(word, size, bold=True) + 26.0, 46.0, 22.0
    left = WIDE - EDGE - long
    paper.box(axes, left, top, long, high, facecolor=fill, edgecolor=look.INK, linewidth=2.0)
    paper.write(axes, left + long / 2.0, top + 22.0, word, size=size, bold=True, ink=ink,
                align="center")  # fmt: skip
    at = left + 8.0 + np.arange(0.0, long - 14.0, 9.0)
    low = np.full(len(at), top + high - 3.5)
    if verdict == Verdict.CAUTION:
        axes.hlines(low, at - 2.5, at + 2.5, color=look.INK, linewidth=5.0, zorder=3.0)
    elif verdict == Verdict.UNKNOWN:
        axes.plot(at, low - 1.5, "o", color="white", markersize=3.0, mew=0.0, zorder=3.0)
    return left


def _settings(axes: Any, dials: Sequence[Dial], top: float) -> float:
    """Three to a row, a small label over a large number; where they end."""
    step = WIDE / 3.0
    for k, dial in enumerate(dials):
        x, y = (k % 3) * step, top + (k // 3) * CELL
        label = cut(dial.label, step - 26.0, size=LABEL)
        paper.write(axes, x + EDGE, y + 18.0, label, size=LABEL, ink=SECOND)
        size = NUMBER
        while size > 15.0 and wide(dial.value, size, bold=True) > step - 26.0:
            size -= 0.5
        value = cut(dial.value, step - 24.0, size=size, bold=True)
        paper.write(axes, x + EDGE, y + 46.0, value, size=size, bold=True)
        if k % 3:
            axes.plot([x, x], [y, y + CELL], color=look.INK, linewidth=1.2)
    rows = (len(dials) + 2) // 3
    for row in range(1, rows + 1):
        y = top + row * CELL
        heavy = 3.0 if row == rows else 1.2
        axes.plot([0.0, WIDE], [y, y], color=look.INK, linewidth=heavy)
    return top + rows * CELL


class _Pen:
    """Writes down the lower half of the card, in type of one scale; without axes it only counts."""

    def __init__(self, axes: Any, top: float, scale: float) -> None:
        self.axes, self.y, self.scale = axes, top, scale
        self.size, self.pitch = BODY * scale, BODY * scale * PITCH

    def whole(self, said: PhoneCard) -> float:
        """Everything; where it ends."""
        self._title("From, to", first=True)
        self._text(said.span, most=2)
        if said.why:
            unknown = said.verdict == Verdict.UNKNOWN
            self._title("Not known" if unknown else "Not flown as planned")
            self._text(said.why, most=4)
        if said.go_if:
            self._title("Go if", f"(wind {said.wind_where}, m/s)")
            self._pairs(said)
        if said.calls:
            self._title("Calls")
            for call in said.calls:
                self._call(call)
        self._title("Left alone")
        self._text(said.alone, most=2)
        if said.never:
            self._text(said.never, most=3, bold=True)
        self._title("We stop")
        self._stops(said.stop)
        return self.y

    def _write(self, x: float, text: str, **more: Any) -> None:
        if self.axes is not None:
            paper.write(self.axes, x, self.y + self.pitch / 2.0, text,
                        **{"size": self.size, **more})  # fmt: skip

    def _title(self, text: str, beside: str = "", *, first: bool = False) -> None:
        self.y += 7.0 * self.scale
        if not first:
            if self.axes is not None:
                self.axes.plot([0.0, WIDE], [self.y, self.y], color=look.INK, linewidth=1.0)
            self.y += 7.0 * self.scale
        size = HEAD * self.scale
        self._write(EDGE, text, bold=True, size=size)
        if beside:
            self._write(EDGE + wide(text, size, bold=True) + 8.0, beside, size=LEAST)
        self.y += self.pitch + 1.0

    def _text(
        self, text: str, *, most: int, left: float = EDGE, bold: bool = False, ahead: str = ""
    ) -> None:
        """Text in lines; `ahead` stands in bold before it."""
        room = WIDE - EDGE - left
        lead = wide(ahead, self.size, bold=True) + 0.4 * self.size if ahead else 0.0
        begun = paper.wrapped(text, room - lead, size=self.size, bold=bold)[:1]
        rest = " ".join(text.split())[len(begun[0]) :] if begun else ""
        if ahead:
            self._write(left, ahead, bold=True)
        more = paper.wrapped(rest, room, size=self.size, bold=bold, lines=most - 1)
        for k, line in enumerate([*begun, *more]):
            self._write(left + (0.0 if k else lead), line, bold=bold)
            self.y += self.pitch

    def _pairs(self, said: PhoneCard) -> None:
        """Two to a row; one that is too long for its half has a row."""
        half, gap = (ACROSS - 20.0) / 2.0, 10.0
        column = 0
        for pair in said.go_if:
            value = cut(pair.value, ACROSS - 60.0, size=self.size, bold=True)
            long = wide(value, self.size, bold=True) + gap
            whole = column == 0 and wide(pair.label, self.size) + long > half
            if column == 1 and wide(pair.label, self.size) + long > half:
                self.y += self.pitch
                column, whole = 0, True
            left = EDGE + column * (half + 20.0)
            right = WIDE - EDGE if whole or column else EDGE + half
            label = cut(pair.label, right - left - long, size=self.size)
            self._write(left, label)
            self._write(right, value, bold=True, align="right")
            column = 0 if whole or column else 1
            self.y += 0.0 if column else self.pitch
        self.y += self.pitch if column else 0.0

    def _call(self, call: Called) -> None:
        """A black flag and what is called."""
        high, long = 1.25 * self.size, 0.0
        if call.flag:
            long = wide(call.flag, self.size, bold=True) + 18.0
            if self.axes is not None:
                y, tip = self.y + 0.5 * (self.pitch - high), 9.0
                x = np.array([0.0, long, long + tip, long, 0.0]) + EDGE
                self.axes.fill(x, y + high * np.array([0.0, 0.0, 0.5, 1.0, 1.0]), color=look.INK,
                               linewidth=0.0)  # fmt: skip
            self._write(EDGE + 9.0, call.flag, bold=True, ink="white")
        self._text(call.text, most=4, left=EDGE + (long + 20.0 if call.flag else 0.0),
                   ahead=call.bold)  # fmt: skip
        self.y += 3.0

    def _stops(self, reasons: Sequence[str]) -> None:
        """Numbered, in one line where they have room."""
        told = [(f"{k}", text) for k, text in enumerate(reasons, start=1)]
        parts = [wide(n, self.size, bold=True) + 5.0 + wide(t, self.size) for n, t in told]
        gap = (ACROSS - sum(parts)) / max(len(told) - 1, 1)
        x = EDGE
        for (number, text), long in zip(told, parts, strict=True):
            if gap < 9.0 and x + long > WIDE - EDGE:
                self.y += self.pitch
                x = EDGE
            self._write(x, number, bold=True)
            self._write(x + wide(number, self.size, bold=True) + 5.0, text)
            x += long + (min(gap, 24.0) if gap >= 9.0 else 16.0)
        self.y += self.pitch
