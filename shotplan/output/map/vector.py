"""The map as a drawing in the page itself, for paper and for where no script runs.

What `still` paints in pixels, as SVG: sharp at any size, and nothing is drawn while one waits.
Names from files stand in it as escaped text.
"""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterable, Iterator
from html import escape
from typing import NamedTuple

import numpy as np

from shotplan.model.arrays import Array
from shotplan.output import look
from shotplan.output.html import picture
from shotplan.output.look import INK
from shotplan.output.map import compass, ground, naming, tags
from shotplan.output.map.compass import NORTH
from shotplan.output.map.shapes import Extent, Shape, Sheet

TENTHS = 10.0  # the unit is a tenth of a point of type: whole numbers are fine enough
WIDE = look.WIDE * TENTHS
CREDIT = 65.0  # of type
NAME = 8.0 * TENTHS  # size of a name's type
HALO = 3.0 * TENTHS  # both sides of a letter together
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
    from_deg: float | None = None,
    speed_m_s: float = 0.0,
    *,
    credited: str = "",
) -> str:
    """The sheets that are on, the wind, and who is `credited`; the same sheets give the same
    text."""
    place = _Place(view)
    on = tuple(sheet for sheet in sheets if sheet.on)
    tagged = tags.placed(on, view)
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
        *_names(place, on, tagged),
        *(_tag(place, shape, move) for shape, move in tagged),
        _bar(place),
        _wind(wind, from_deg, speed_m_s),
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
        return "".join(_figure(place, shape) for shape in shapes)
    corners = [place.at(shape.parts[0])[0] for shape in shapes]
    if name == "cross":
        signs = "".join(f"M{x - 25} {y - 25}l50 50m0 -50l-50 50" for x, y in corners)
        return f'<path stroke="white" stroke-width="15" d="{signs}"/>'
    if name not in tags.PLACES:
        return ""
    half = 45
    if name == "launch":
        signs = "".join(f"M{x - half} {y - half}h90v90h-90ZM{x - 8} {y}h16" for x, y in corners)
    else:
        signs = "".join(
            f"M{x} {y - half}l{half} {half} {-half} {half} {-half} {-half}Z" for x, y in corners
        )
    fill = "#a9a49a" if name == "place" else "white"
    return f'<path fill="{fill}" stroke="{INK}" stroke-width="20" d="{signs}"/>'


def _figure(place: _Place, shape: Shape) -> str:
    """A height in its line, turned with it, its top uphill."""
    ((x, y),) = place.at(shape.parts[0])
    return _text(x, y + 25.0, shape.tag, 75.0, middle=True, ink=look.HEIGHT_INK,
                 turn_deg=shape.turn_deg, italic=True)  # fmt: skip


def _names(
    place: _Place, on: tuple[Sheet, ...], tagged: list[tuple[Shape, tags.Move]]
) -> Iterator[str]:
    """Names, as far as there is room beside the tags, the corners and the verdict lines."""
    shapes = [s for sheet in on for s in sheet.shapes]
    corners = [
        [0.0, 0.0, 0.42 * WIDE, 0.16 * WIDE],
        [0.0, 0.9 * place.high, 0.42 * WIDE, place.high],
    ]
    points = [place.at(s.parts[0][:1])[0] for s in shapes if s.look in tags.PLACES]
    boxes = [[x - 60.0, y - 60.0, x + 60.0, y + 60.0] for x, y in points]
    boxes += [_box(place, shape, move) for shape, move in tagged]
    lines = [np.array(place.at(s.parts[0]), dtype=float) for s in shapes if s.look == "touch"]
    field = naming.Field(
        np.array(corners + boxes), naming.dense(lines, 40.0), WIDE, float(place.high)
    )
    named = (
        (s, np.array(place.at(s.parts[0]), dtype=float), s.radius_m * place.per_m)
        for s in shapes
        if s.info is not None and s.info.name and s.look != "launch" and place.view.holds(s.parts)
    )
    for one in naming.names(named, field, NAME):
        yield _text(one.x, one.y + 0.36 * NAME, one.text, NAME, middle=True, bold=True,
                    ink=look.NAMES.get(one.look, INK), turn_deg=one.turn_deg,
                    pivot=(one.x, one.y))  # fmt: skip


def _box(place: _Place, shape: Shape, move_pt: tags.Move) -> list[float]:
    """Left, top, right and bottom of a tag's sign."""
    ((x, y),) = place.at(shape.parts[0][:1])
    at = round(x + move_pt[0] * TENTHS), round(y - move_pt[1] * TENTHS)
    size = tags.size_pt(shape) * TENTHS
    letter, gap = LETTER[tags.boxed(shape)]
    long = size * (0.5 + sum(gap if c in " ·,!" else letter for c in shape.tag))
    high = 1.45 * size
    if shape.look == "start":
        long = high = max(long, high)
    if shape.look in tags.SIGNS:
        long += high
    return [at[0] - long / 2, at[1] - high / 2, at[0] + long / 2, at[1] + high / 2]


def _tag(place: _Place, shape: Shape, move_pt: tags.Move) -> str:
    """What is written at a point, on a sign of its own, with a line to the point."""
    ((x, y),) = place.at(shape.parts[0][:1])
    left, top, right, bottom = _box(place, shape, move_pt)
    at, size = ((left + right) / 2, (top + bottom) / 2), tags.size_pt(shape) * TENTHS
    dark, sign, high = shape.look in tags.DARK, tags.SIGNS.get(shape.look), bottom - top
    bold = tags.boxed(shape)
    round_px = high / 2 if shape.look == "start" else 25.0
    rect = ""
    if bold:
        rect = (
            f'<rect x="{left:.0f}" y="{top:.0f}" width="{right - left:.0f}" height="{high:.0f}" '
            f'rx="{round_px:.0f}" fill="{INK if dark else "white"}" '
            f'stroke="{"white" if dark else INK}" stroke-width="15"/>'
        )
    if sign is not None:
        rect += (
            f'<rect x="{left:.0f}" y="{top:.0f}" width="{high:.0f}" height="{high:.0f}" '
            f'fill="{tags.rim(shape)}" stroke="{INK}" stroke-width="15"/>'
        )
        light = INK if shape.look == "pin-caution" else "white"
        rect += _text(left + high / 2, at[1] + 0.36 * size, sign, 1.2 * size, middle=True,
                      bold=True, ink=light, halo=False)  # fmt: skip
    line = f'<path stroke="{INK}" stroke-width="10" d="M{x} {y}L{at[0]:.0f} {at[1]:.0f}"/>'
    middle = at[0] + (high / 2 if sign is not None else 0.0)
    ink = "white" if dark else tags.ink(shape)
    text = _text(middle, at[1] + 0.36 * size, shape.tag, size, middle=True, bold=bold, ink=ink,
                 halo=not bold)  # fmt: skip
    return f"{line if tags.led(shape) else ''}{rect}{text}"


def _text(
    x: float, y: float, text: str, size: float, *, middle: bool = False, bold: bool = False,
    ink: str = INK, turn_deg: float = 0.0, italic: bool = False, halo: bool = True,
    pivot: tuple[float, float] | None = None, end: bool = False,
) -> str:  # fmt: skip
    """With a `halo` in the ground's colour, unless it stands on a sign."""
    anchor = "middle" if middle else "end" if end else ""
    more = f' text-anchor="{anchor}"' if anchor else ""
    more += ' font-weight="700"' if bold else ""
    where = f'x="{x:.0f}" y="{y:.0f}" fill="{ink}" font-size="{size:.0f}"'
    if halo:
        more += f' stroke="{look.PAPER}" stroke-width="{HALO:.0f}" paint-order="stroke"'
    if italic:
        more += ' font-style="italic"'
    if turn_deg:
        px, py = pivot or (x, y)
        more += f' transform="rotate({turn_deg:.0f} {px:.0f} {py:.0f})"'
    return f"<text {where}{more}>{escape(text)}</text>"


def _credit(place: _Place, credited: str) -> list[str]:
    """Lower right, small: whose data it is."""
    lines = textwrap.wrap(credited, 80)[:4]
    right, low = WIDE - 30.0, place.high - 30.0
    return [_text(right, low - 75.0 * k, line, CREDIT, end=True)
            for k, line in enumerate(reversed(lines))]  # fmt: skip


def _bar(place: _Place) -> str:
    """Lower left: a length in metres, below it one in feet."""
    x, y = 0.04 * WIDE, 0.955 * place.high
    length, feet = tags.bars(place.view)
    lines = (
        f"M{x:.0f} {y - 40:.0f}V{y:.0f}h{length.long_m * place.per_m:.0f}v-40"
        f"M{x:.0f} {y:.0f}v40m{feet.long_m * place.per_m:.0f} 0v-40"
    )
    return (
        f'<path stroke="{INK}" stroke-width="15" d="{lines}"/>'
        f"{_text(x + 30.0, y - 25.0, length.says, 80.0)}"
        f"{_text(x + 30.0, y + 85.0, feet.says, 80.0)}"
    )


def _wind(says: str, from_deg: float | None, speed_m_s: float) -> str:
    """Upper left: north, below it the wind as a barb and in words."""
    x, y = 0.05 * WIDE, 0.05 * WIDE
    north = f'<path transform="translate({x:.0f} {y:.0f}) scale(9)" fill="{INK}" d="{NORTH}"/>'
    north += _text(x, y + 150.0, "N", 90.0, middle=True, bold=True)
    barb = ""
    if from_deg is not None:
        rx, ry = compass.ring(from_deg)
        barb = (
            f'<g transform="translate({x + 30.0:.0f} {y + 380.0:.0f}) scale(8)" stroke="{INK}" '
            f'stroke-width="2.5"><path d="{compass.barb(from_deg, speed_m_s)}"/><circle '
            f'cx="{rx:.1f}" cy="{ry:.1f}" r="{compass.RING:g}" fill="white"/></g>'
        )
    return f"{north}{barb}{_text(x + 240.0, y + 410.0, says, 80.0)}"
