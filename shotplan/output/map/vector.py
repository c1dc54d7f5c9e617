"""The map as a drawing in the page itself, for paper and for where no script runs.

What `still` paints in pixels, as SVG: sharp at any size, and nothing is drawn while one waits. No
name from a file is written in it, but for whose data it shows.
"""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterable
from html import escape
from typing import NamedTuple

import numpy as np

from shotplan.model.arrays import Array
from shotplan.output import look
from shotplan.output.html import picture
from shotplan.output.look import INK
from shotplan.output.map import ground, tags
from shotplan.output.map.shapes import Extent, Shape, Sheet

TENTHS = 10.0  # the unit is a tenth of a point of type: whole numbers are fine enough
WIDE = look.WIDE * TENTHS
CREDIT = 65.0  # of type
PEN = 0.8 * TENTHS  # of a line on the live map
SAYS = "Map of the site with the flights drawn by verdict; the same is told in words below."
LETTER = {True: (0.72, 0.35), False: (0.62, 0.32)}  # of a size of type, bold or not: letter, gap
TYPE = "font-family=\"'DejaVu Sans',Verdana,sans-serif\""


class _Place(NamedTuple):
    """Where frame metres are on the drawing."""

    view: Extent

    @property
    def per_m(self) -> float:
        """Units to a metre."""
        return WIDE / (self.view.east_m - self.view.west_m)

    @property
    def high(self) -> int:
        """Of the drawing."""
        return round((self.view.north_m - self.view.south_m) * self.per_m)

    def at(self, xy_m: Array) -> list[tuple[int, int]]:
        """Points `(k, 2)` right of and below the upper left corner."""
        corner = np.array([self.view.west_m, self.view.north_m])
        places = np.rint((xy_m - corner) * [self.per_m, -self.per_m]).astype(int)
        return [(x, y) for x, y in places.tolist()]

    def path(self, xy_m: Array) -> str:
        """A line through points."""
        return "M" + " ".join(f"{x} {y}" for x, y in self.at(xy_m))


def svg(
    relief: ground.Relief,
    sheets: tuple[Sheet, ...],
    view: Extent,
    wind: str = "",
    blows_to_deg: float | None = None,
    credited: str = "",
) -> str:
    """The sheets that are on, the wind, and who is `credited`; the same sheets give the same
    text."""
    place = _Place(view)
    on = tuple(sheet for sheet in sheets if sheet.on)
    shown = (s for sheet in on for s in sheet.shapes if s.look != "touch" and view.holds(s.parts))
    whole = f'width="{WIDE:.0f}" height="{place.high}"'
    return "\n".join([
        f'<svg id="still" viewBox="0 0 {WIDE:.0f} {place.high}" role="img" aria-label="{SAYS}" '
        f'fill="none" stroke-linejoin="round" {TYPE}>',
        f'<clipPath id="still-rim"><rect {whole}/></clipPath><g clip-path="url(#still-rim)">',
        f'<image href="{picture(ground.png(relief))}" {whole} preserveAspectRatio="none"/>',
        *(
            _alike(place, kind, name, list(shapes))
            for (kind, name), shapes in itertools.groupby(shown, key=lambda s: (s.kind, s.look))
        ),
        *(_tag(place, shape, move) for shape, move in tags.placed(on, view)),
        _bar(place),
        _wind(wind, blows_to_deg),
        *_credit(place, credited),
        "</g></svg>",
    ])  # fmt: skip


def _alike(place: _Place, kind: str, name: str, shapes: list[Shape]) -> str:
    """Shapes of one look."""
    if kind == "mark":
        return _marks(place, name, shapes)
    it = look.LOOKS[name]
    pen = f'stroke="{it.line}" stroke-width="{PEN * it.width:.0f}"'
    if it.dash:
        pen += f' stroke-dasharray="{" ".join(f"{PEN * d:.0f}" for d in it.dash)}"'
    if kind == "line":
        cap = "" if it.square else ' stroke-linecap="round"'
        return f'<path {pen}{cap} d="{"".join(place.path(s.parts[0]) for s in shapes)}"/>'
    fill = f' fill="{it.fill}" fill-opacity="{it.density}" fill-rule="evenodd"' if it.fill else ""
    drawn = _circle if kind == "circle" else _area
    return f"<g {pen}{fill}>{''.join(drawn(place, s) for s in shapes)}</g>"


def _circle(place: _Place, shape: Shape) -> str:
    ((x, y),) = place.at(shape.parts[0])
    return f'<circle cx="{x}" cy="{y}" r="{shape.radius_m * place.per_m:.0f}"/>'


def _area(place: _Place, shape: Shape) -> str:
    return f'<path d="{"".join(place.path(ring) + "Z" for ring in shape.parts)}"/>'


def _marks(place: _Place, name: str, shapes: Iterable[Shape]) -> str:
    """What is in the line or at a place; the other tags come later."""
    if name == "elevation":
        return "".join(_tag(place, shape, (0.0, 0.0)) for shape in shapes)
    corners = [place.at(shape.parts[0])[0] for shape in shapes]
    if name == "cross":
        signs = "".join(f"M{x - 25} {y - 25}l50 50m0 -50l-50 50" for x, y in corners)
        return f'<path stroke="white" stroke-width="15" d="{signs}"/>'
    if name not in tags.PLACES:
        return ""
    half = 35 if name == "place" else 50
    fill, rim = ("white", INK) if name == "stand" else (INK, "white")
    signs = "".join(
        f"M{x} {y - half}l{half} {half} {-half} {half} {-half} {-half}Z" for x, y in corners
    )
    return f'<path fill="{fill}" stroke="{rim}" stroke-width="12" d="{signs}"/>'


def _tag(place: _Place, shape: Shape, move_pt: tags.Move) -> str:
    """What is written at a point, on a sign of its own, with a line to the point."""
    ((x, y),) = place.at(shape.parts[0][:1])
    at = round(x + move_pt[0] * TENTHS), round(y - move_pt[1] * TENTHS)
    size, dark = tags.size_pt(shape) * TENTHS, tags.boxed(shape)
    letter, gap = LETTER[dark]
    long = size * (0.5 + sum(gap if c == " " else letter for c in shape.tag))
    high = 1.45 * size
    if shape.look == "start":
        long = high = max(long, high)
    sign = (
        f'<rect x="{at[0] - long / 2:.0f}" y="{at[1] - high / 2:.0f}" width="{long:.0f}" '
        f'height="{high:.0f}" rx="{high / 2 if shape.look == "start" else 25:.0f}" '
    )
    sign += (
        f'fill="{INK}" stroke="{tags.rim(shape)}" stroke-width="15"/>'
        if dark
        else 'fill="white" fill-opacity="0.75"/>'
    )
    line = f'<path stroke="{INK}" stroke-width="10" d="M{x} {y}L{at[0]} {at[1]}"/>'
    text = _text(at[0], at[1] + 0.36 * size, shape.tag, size, middle=True, bold=dark,
                 ink="white" if dark else INK)  # fmt: skip
    return f"{line if tags.led(shape) else ''}{sign}{text}"


def _text(
    x: float, y: float, text: str, size: float, *, middle: bool = False, bold: bool = False,
    ink: str = INK, end: bool = False,
) -> str:  # fmt: skip
    anchor = "middle" if middle else "end" if end else ""
    more = f' text-anchor="{anchor}"' if anchor else ""
    more += ' font-weight="700"' if bold else ""
    where = f'x="{x:.0f}" y="{y:.0f}" fill="{ink}" font-size="{size:.0f}"'
    return f"<text {where}{more}>{escape(text)}</text>"


def _bar(place: _Place) -> str:
    """Lower left: a length, and where north is."""
    length = tags.bar_m(place.view)
    x, y = 0.04 * WIDE, 0.965 * place.high
    line = (
        f'<path stroke="{INK}" stroke-width="30" d="M{x:.0f} {y:.0f}h{length * place.per_m:.0f}"/>'
    )
    return line + _text(x, y - 40.0, f"{length:.0f} m, north is up", 80.0)


def _credit(place: _Place, credited: str) -> list[str]:
    """Lower right, small: whose data it is."""
    lines = textwrap.wrap(credited, 80)[:4]
    right, low = WIDE - 30.0, place.high - 30.0
    return [_text(right, low - 75.0 * k, line, CREDIT, end=True)
            for k, line in enumerate(reversed(lines))]  # fmt: skip


def _wind(says: str, blows_to_deg: float | None) -> str:
    """Upper left: an arrow that points where the wind blows to, and the wind in words."""
    x = y = 0.05 * WIDE
    arrow = ""
    if blows_to_deg is not None:
        arrow = (
            f'<path stroke="{INK}" stroke-width="20" fill="{INK}" stroke-linejoin="miter" '
            f'transform="translate({x:.0f} {y:.0f}) rotate({blows_to_deg:.1f})" '
            'd="M0 115V-70M-25 -65L0 -115L25 -65Z"/>'
        )
    return arrow + _text(x + 0.06 * WIDE, y + 0.36 * 80.0, says, 80.0)
