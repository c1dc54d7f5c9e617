"""Where to launch and to stand as a map picture: no name from a file is written in it.

Where the proposals lie close together that part is drawn again beneath, nearer, with the tags;
then what each scores and what it sees, and of what the scores are made.

Proposals are tags with a letter for the role and a number, those for one role alike; where people
stand now says so. They differ in brightness, not only in colour, so that a grey printout will do.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from shotplan.advice.vantage import ROLES, Vantages
from shotplan.model.arrays import Array
from shotplan.output import credit, first, look, paper
from shotplan.output.answers import spots_table
from shotplan.output.answers.spots_table import STYLES, Style
from shotplan.output.map import drawing, ground, still
from shotplan.output.map.shapes import Extent, Shape
from shotplan.output.map.tags import PX, moves_pt
from shotplan.output.words import letter

LEGEND_PT, ROW_IN = 8.5, 0.172
COLOURS = 255
TOLD = ("fall", "ride", "people", "keep-out", "wildlife", "boundary", "surveyed", "water", "wood",
        "tree", "building", "pole", "wire")  # fmt: skip
TALLEST = 1.5  # of the map, by its width
TAG_PT = 9.5
SEEN = ((0.9, 3.6), (0.7, 2.6), (0.4, 1.7), (0.0, 0.8))  # least share, size of its dot in points
SEEN_INK = "#3c5fa0"
ORDER = {"wood": 0, "building": 1, "tree": 2, "pole": 3, "wire": 4}


FIXED_ENTRIES = 6  # of the legend: where they stand now, dots, the flights
TITLE_IN = 0.22  # over the part that is drawn again
TABLE_IN = 1.5  # what each proposal scores, and of what
NEARER, NEAR_TALL = 1.5, 0.62  # drawn again where so much nearer; its height by its width
NOW = Style("now", "#b9b4a8", look.INK)
SHOT = Style("", look.PAPER, look.INK)


class _Tag(NamedTuple):
    """What is written at a point `(2,)`."""

    text: str
    at_m: Array
    style: Style


def png(found: Vantages) -> bytes:
    """A PNG of the map; the same finding gives the same bytes."""
    view = _view(found)
    near = _nearer(found, view)
    shapes = _shapes(found, view)
    looks = {shape.look for shape in shapes}
    entries = FIXED_ENTRIES + len(looks & set(TOLD))
    legend_in = ROW_IN * math.ceil(entries / 2) + 0.12
    map_in = still.high_in(view)
    near_in = 0.0 if near is None else still.high_in(near) + TITLE_IN
    whole_in = map_in + near_in + TABLE_IN + legend_in
    figure = paper.figure(look.WIDTH_PX / look.DPI, whole_in)

    def part(top_in: float, high_in: float) -> Any:
        return paper.bare(
            figure, (0.0, 1.0 - (top_in + high_in) / whole_in, 1.0, high_in / whole_in)
        )

    axes = _map(part(0.0, map_in), found, view, shapes)
    tags = _listed(found)
    if near is not None:
        inset = _map(part(map_in + TITLE_IN, near_in - TITLE_IN), found, near, _shapes(found, near))
        inside = [t for t in tags if near.holds((t.at_m[None],))]
        _tags(inset, inside, found, near)
        _framed(axes, inset, near, (view.east_m - view.west_m) / (near.east_m - near.west_m))
        tags = [t for t in tags if not near.holds((t.at_m[None],))]
    _tags(axes, tags, found, view)
    still.wind_barb(axes, view, *first.barb(found.outing.day.weather))
    spots_table.draw(part(map_in + near_in, TABLE_IN), found, TABLE_IN * 72.0)
    _legend(figure, looks)
    return paper.png(figure, COLOURS)


def _map(axes: Any, found: Vantages, view: Extent, shapes: list[Shape]) -> Any:
    """The ground, the flights and what is seen from where, without tags."""
    site = found.outing.site
    still.backdrop(axes, ground.relief(site.terrain, site.frame, view), view)
    _scene(axes, found, shapes)
    _seen(axes, found)
    still.scale_bar(axes, view)
    still.credit_line(axes, view, credit.line(site))
    return axes


def _nearer(found: Vantages, view: Extent) -> Extent | None:
    """The part with the proposals, as wide as the map when drawn; None where that is not much
    nearer."""
    spots = [v.xyz_m[None, :2] for role in ROLES for v in found.proposals[role]]
    if len(spots) < 2:
        return None
    low, high = np.concatenate(spots).min(axis=0), np.concatenate(spots).max(axis=0)
    middle, half = (low + high) / 2.0, np.maximum((high - low) * 0.65, 8.0)
    half = np.maximum(half, [half[1] / NEAR_TALL, half[0] * NEAR_TALL])
    near = Extent(*(middle - half).tolist(), *(middle + half).tolist())
    much = (view.east_m - view.west_m) >= NEARER * (near.east_m - near.west_m)
    return near if much else None


def _framed(axes: Any, inset: Any, near: Extent, times: float) -> None:
    """The frame on the map, and what the map beneath it is."""
    corners = np.array([(near.west_m, near.south_m), (near.east_m, near.south_m),
                        (near.east_m, near.north_m), (near.west_m, near.north_m)])  # fmt: skip
    ring = np.concatenate([corners, corners[:1]]).T
    axes.plot(*ring, color="white", linewidth=4.0, zorder=4.5)
    axes.plot(*ring, color=look.INK, linewidth=2.0, zorder=4.6)
    inset.plot([0, 1], [1, 1], color=look.INK, linewidth=3.0, transform=inset.transAxes, zorder=9)
    paper.beside(inset, (near.west_m, near.north_m), (6.0, 4.0),
                 f"the framed part, {times:.1f} times as large", size=TAG_PT,
                 bold=True)  # fmt: skip


def _view(found: Vantages) -> Extent:
    """All flights and all places told, with a rim; never much taller than wide."""
    spots = [v.xyz_m[None, :2] for v in _all(found) if np.isfinite(v.xyz_m[:2]).all()]
    ride = found.outing.ride.xyz_m[0, :, :2]
    view = drawing.around([ride, *found.tracks, *spots], 0.07, 12.0)
    wide, high = view.east_m - view.west_m, view.north_m - view.south_m
    more_x = max(0.0, high / TALLEST - wide) / 2.0
    more_y = max(0.0, wide * 0.5 - high) / 2.0
    return Extent(
        view.west_m - more_x, view.south_m - more_y, view.east_m + more_x, view.north_m + more_y
    )


def _all(found: Vantages) -> list[Any]:
    return [*(v for role in ROLES for v in found.proposals[role]), *found.now]


def _shapes(found: Vantages, view: Extent) -> list[Shape]:
    """The ground, what lies and stands on it, where it may come down, the ride, from below."""
    site = found.outing.site
    things = sorted(site.obstacles.things, key=lambda t: ORDER[t.role])
    near = [t for t in things if view.holds((t.where_m,))][: drawing.MOST_THINGS]
    shapes = [
        *(Shape("area", "water", w.outline) for w in site.terrain.water),
        *(s for s in ground.contours(site.terrain, view) if s.kind == "line"),
        *drawing.areas(site),
        *(shape for thing in near for shape in drawing.solid(thing)),
        *(Shape("area", "fall", (ring,)) for ring in found.fall),
        *drawing.ride_line(found.outing),
    ]
    return [s for s in shapes if view.holds(s.parts)]


def _scene(axes: Any, found: Vantages, shapes: list[Shape]) -> None:
    """The shapes and the flights."""
    for shape in shapes:
        still.draw(axes, shape)
    for track in found.tracks:
        axes.plot(*track[::3].T, color="white", linewidth=2.4)
        axes.plot(*track[::3].T, color=look.INK, linewidth=1.0)


def _seen(axes: Any, found: Vantages) -> None:
    """A dot where somebody may stand, the larger the more is seen from there."""
    share = found.seen_from[:, 2]
    most = np.inf
    for least, size in SEEN:
        those = found.seen_from[(share >= least) & (share < most)]
        axes.plot(*those[:, :2].T, marker="o", linestyle="none", color=SEEN_INK, markersize=size,
                  markeredgewidth=0.0, alpha=0.75)  # fmt: skip
        most = least


def _listed(found: Vantages) -> list[_Tag]:
    """All tags: proposals first, then where they stand now, one tag a place; then the shots."""
    tags = [
        _Tag(f"{STYLES[role].letter}{v.number}", v.xyz_m[:2], STYLES[role])
        for role in ROLES
        for v in found.proposals[role]
    ]
    now: dict[tuple[float, ...], list[str]] = {}
    for v in found.now:
        if np.isfinite(v.xyz_m[:2]).all():
            roles = now.setdefault(tuple(v.xyz_m[:2].tolist()), [])
            roles += [STYLES[v.role].letter] if STYLES[v.role].letter not in roles else []
    tags += [_Tag(f"now {' '.join(r)}", np.array(at), NOW) for at, r in now.items()]
    tags += [_Tag(letter(i), track[0], SHOT) for i, track in enumerate(found.tracks)]
    return tags


def _tags(axes: Any, tags: Sequence[_Tag], found: Vantages, view: Extent) -> None:
    """Tags moved apart, each with a line to its point."""
    points = np.stack([t.at_m for t in tags])
    sizes = np.array([[len(t.text) * 0.72 + 1.2, 1.9] for t in tags]) * TAG_PT * PX
    lines = np.concatenate([found.outing.ride.xyz_m[0, ::20, :2], points])
    moves = moves_pt(view, points, sizes, [False] * len(tags), lines)
    for tag in tags:
        axes.plot(*tag.at_m[:, None], marker="o", color=tag.style.fill, markeredgecolor=look.INK,
                  markersize=5.5 if tag.style is not SHOT else 3.5, markeredgewidth=1.2,
                  zorder=4)  # fmt: skip
    for tag, move in reversed(list(zip(tags, moves, strict=True))):
        if move is not None:
            _write(axes, tag, move)


def _write(axes: Any, tag: _Tag, move_pt: tuple[float, float]) -> None:
    shot = tag.style is SHOT
    paper.beside(
        axes, tag.at_m, move_pt, tag.text, size=TAG_PT, bold=not shot, ink=tag.style.ink,
        ha="center", va="center", annotation_clip=True, zorder=5,
        arrowprops={"arrowstyle": "-", "color": look.INK, "linewidth": 1.2},
        bbox={
            "boxstyle": "circle,pad=0.2" if shot else "round,pad=0.25",
            "linewidth": 0.8 if shot else 1.4,
            "linestyle": (0, (3, 1.5)) if tag.style is NOW else "solid",
            "edgecolor": look.INK,
            "facecolor": tag.style.fill,
        },
    )  # fmt: skip


def _legend(figure: Any, looks: set[str]) -> None:
    """What tags, dots, lines and areas mean; of the ground only what is drawn."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    def tag(style: Style, label: str) -> Any:
        return Patch(facecolor=style.fill, edgecolor=look.INK, linewidth=1.2, label=label)

    def dot(size: float, label: str) -> Any:
        return Line2D([], [], marker="o", linestyle="none", color=SEEN_INK, markersize=size,
                      markeredgewidth=0.0, label=label)  # fmt: skip

    shares = [f"{100 * least:.0f} %" for least, _ in SEEN]
    bands = [
        f"sees {shares[0]} of the flights or more",
        *(f"{low} to {high}" for high, low in itertools.pairwise(shares[:-1])),
        f"less than {shares[-2]}",
    ]
    handles = [
        tag(NOW, "where they stand now"),
        *(dot(size, text) for (_, size), text in zip(SEEN, bands, strict=True)),
        Line2D([], [], color=look.INK, linewidth=1.0, label="the flights, from A, B …"),
        *(entry(look.LOOKS[name]) for name in TOLD if name in looks),
    ]
    paper.legend(figure, handles, (0.01, 0.0), columns=2, size=LEGEND_PT, borderpad=0.6,
                 labelspacing=0.35, columnspacing=1.2)  # fmt: skip


def entry(it: look.Look) -> Any:
    """A legend entry in a look of the map."""
    from matplotlib.colors import to_rgba
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    dash: Any = (0, tuple(d / it.width for d in it.dash)) if it.dash else "solid"
    if it.fill:
        return Patch(facecolor=to_rgba(it.fill, max(it.density, 0.2)), edgecolor=it.line,
                     linestyle=dash, linewidth=1.0, label=it.says)  # fmt: skip
    return Line2D([], [], color=it.line, linestyle=dash, linewidth=1.6, label=it.says)
