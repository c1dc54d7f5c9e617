"""The marks of what is a point: pictures for the packed KML, names of symbols for GPX.

Every mark has a form of its own, so that it reads without its colour. The names are those that
hand-held receivers have long known; one that does not know a name shows its own pin.
"""

from __future__ import annotations

import io
from typing import Any

from shotplan.model.verdict import Verdict
from shotplan.output.look import INK, VERDICTS

SYMBOLS = {
    "launch": "Heliport",
    "stand": "Scenic Area",
    "place": "Waypoint",
    "call": "Bell",
    "tree": "Forest",
    "pole": "Tall Tower",
    "building": "Building",
    **{
        f"{kind}-{verdict.word}": name
        for kind in ("pin", "track")
        for verdict, name in (
            (Verdict.GO, "Pin, Blue"),
            (Verdict.CAUTION, "Pin, Yellow"),
            (Verdict.UNKNOWN, "Information"),
            (Verdict.NO_GO, "Danger Area"),
        )
    },
}
PX, FINE = 64, 4  # of an icon; drawn so many times as large
_LINE = 7  # of 64
_MARKS = {Verdict.NO_GO: "x", Verdict.CAUTION: "!", Verdict.UNKNOWN: "?", Verdict.GO: "."}


def drawn() -> dict[str, bytes]:
    """A PNG for every kind of point that has a mark."""
    found = {"launch": _made(_launch), "stand": _made(_stand), "place": _made(_place)}
    found["call"] = _made(_flag)
    for verdict, mark in _MARKS.items():
        one = _made(_disc, VERDICTS[verdict].line, mark)
        found |= {f"{kind}-{verdict.word}": one for kind in ("pin", "track")}
    return found


def _made(draw: Any, *more: str) -> bytes:
    from PIL import Image, ImageDraw

    whole = Image.new("RGBA", (PX * FINE, PX * FINE), (255, 255, 255, 0))
    draw(_Pen(ImageDraw.Draw(whole)), *more)
    out = io.BytesIO()
    whole.resize((PX, PX), Image.Resampling.BOX).save(out, format="PNG", compress_level=6)
    return out.getvalue()


class _Pen:
    """Draws in 64ths of the icon, everything cased in white so that it stands on any ground."""

    def __init__(self, to: Any) -> None:
        self.to = to

    def round(self, x: float, y: float, radius: float, fill: str) -> None:
        box = [FINE * v for v in (x - radius, y - radius, x + radius, y + radius)]
        self.to.ellipse(box, fill=fill)

    def line(self, points: list[tuple[float, float]], fill: str, wide: float = _LINE) -> None:
        self.to.line([(FINE * x, FINE * y) for x, y in points], fill=fill, width=int(FINE * wide))

    def area(self, points: list[tuple[float, float]], fill: str) -> None:
        self.to.polygon([(FINE * x, FINE * y) for x, y in points], fill=fill)


def _disc(pen: _Pen, colour: str, mark: str) -> None:
    """A disc in a verdict's colour with its mark; ink all round, also on white."""
    for radius, fill in ((30, "white"), (27, INK), (23, colour)):
        pen.round(32, 32, radius, fill)
    bright = sum(int(colour[i : i + 2], 16) for i in (1, 3, 5))
    ink = INK if bright > 420 else "white"
    if mark == "x":
        pen.line([(21, 21), (43, 43)], ink)
        pen.line([(43, 21), (21, 43)], ink)
    elif mark == "!":
        pen.line([(32, 16), (32, 36)], ink)
        pen.round(32, 45, 4.5, ink)
    elif mark == "?":
        pen.line([(22, 26), (24, 20), (32, 17), (40, 20), (41, 27), (32, 34), (32, 40)], ink, 6)
        pen.round(32, 48, 4, ink)
    else:
        pen.line([(20, 33), (29, 42), (44, 22)], ink)


def _launch(pen: _Pen) -> None:
    """A square with a dot."""
    for half, fill in ((28, "white"), (25, INK), (18, "white")):
        low, high = 32 - half, 32 + half
        pen.area([(low, low), (high, low), (high, high), (low, high)], fill)
    pen.round(32, 32, 8, INK)


def _stand(pen: _Pen) -> None:
    """A diamond."""
    for half, fill in ((31, "white"), (26, INK), (15, "white")):
        pen.area([(32, 32 - half), (32 + half, 32), (32, 32 + half), (32 - half, 32)], fill)


def _place(pen: _Pen) -> None:
    """A dot."""
    for radius, fill in ((18, "white"), (14, INK)):
        pen.round(32, 32, radius, fill)


def _flag(pen: _Pen) -> None:
    """A black flag on its staff: its foot is where the rider is."""
    flag = [(14.0, 6.0), (56.0, 18.0), (14.0, 32.0)]
    pen.line([(14, 4), (14, 60)], "white", 13)
    pen.line([*flag, flag[0]], "white", 8)
    pen.line([(14, 6), (14, 58)], INK)
    pen.area(flag, INK)
