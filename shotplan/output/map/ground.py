"""The ground as a background: shaded relief, north up, and contour lines."""

from __future__ import annotations

import io
import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.terrain import Terrain
from shotplan.output.map.shapes import Extent, Info, Shape, simplified

SHADES = 24
LEVEL = 17  # the shade of level ground
USUAL_SLOPE = 0.7
DARK, LIGHT, HATCH = (150, 141, 124), (252, 250, 245), (120, 120, 120)
PAPER_RGB = (244, 241, 234)


class Relief(NamedTuple):
    """`shade (rows, cols)` indexes the palette, north up, rows even in Web Mercator; corners in
    degrees; `relief` False where the ground is level."""

    shade: NDArray[np.uint8]
    west_deg: float
    south_deg: float
    east_deg: float
    north_deg: float
    relief: bool

    @property
    def gaps(self) -> bool:
        """Whether some of the ground is not known."""
        return bool((self.shade >= SHADES).any())


def relief(terrain: Terrain, frame: Frame, view: Extent, most_px: int = 640) -> Relief:
    """The site's own ground under `view`, lit from the north-west; hatched where not known."""
    corners = np.array([[view.west_m, view.south_m], [view.east_m, view.south_m],
                        [view.west_m, view.north_m], [view.east_m, view.north_m]])  # fmt: skip
    lonlat = frame.turned_deg(corners)
    west, south = lonlat.min(axis=0)
    east, north = lonlat.max(axis=0)
    width, height = view.east_m - view.west_m, view.north_m - view.south_m
    pixel_m = max(width, height) / most_px
    cols, rows = max(2, round(width / pixel_m)), max(2, round(height / pixel_m))
    lon = west + (np.arange(cols) + 0.5) / cols * (east - west)
    top, bottom = _mercator(north), _mercator(south)
    lat = np.degrees(np.arctan(np.sinh(top - (np.arange(rows) + 0.5) / rows * (top - bottom))))
    grid = np.stack(np.meshgrid(lon, lat), axis=-1)
    z = terrain.ground_m(frame.xy_m(grid))
    known = np.isfinite(z)
    level = not known.any() or float(np.ptp(z[known])) < 0.5
    index = np.full(z.shape, LEVEL, dtype=np.uint8) if level else _shade(z, pixel_m)
    stripe = (np.add.outer(np.arange(rows), np.arange(cols)) % 14) < 2
    index[~known] = np.where(stripe[~known], SHADES, SHADES + 1)
    return Relief(index, float(west), float(south), float(east), float(north), not level)


def _mercator(lat_deg: float) -> float:
    return math.asinh(math.tan(math.radians(lat_deg)))


def _shade(z: Array, pixel_m: float) -> NDArray[np.uint8]:
    """Cosine shading, light from the north-west half-way up, softened so that a wall turned away
    keeps its folds; gentle ground is drawn steeper, steep ground gentler."""
    filled = np.where(np.isfinite(z), z, float(np.nanmean(z)))
    southward, eastward = np.gradient(filled, pixel_m)
    steep = float(np.percentile(np.hypot(southward, eastward), 90))
    stretch = min(max(USUAL_SLOPE / max(steep, 1e-6), 0.6), 4.0)
    southward, eastward = southward * stretch, eastward * stretch
    azimuth_rad, up_rad = math.radians(315.0), math.radians(45.0)
    toward_light = (
        -eastward * math.sin(azimuth_rad) * math.cos(up_rad)
        + southward * math.cos(azimuth_rad) * math.cos(up_rad)
        + math.sin(up_rad)
    ) / np.sqrt(eastward**2 + southward**2 + 1.0)
    light = (1.0 + toward_light) / (1.0 + math.sin(up_rad))
    return np.asarray(np.clip(light * LEVEL, 0, SHADES - 1), dtype=np.uint8)


def palette() -> list[int]:
    """RGB of every index: the shades, the hatch, the paper between its lines."""
    t = np.linspace(0.0, 1.0, SHADES)[:, None]
    shades = np.round(np.array(DARK) * (1 - t) + np.array(LIGHT) * t).astype(int)
    return [*shades.ravel().tolist(), *HATCH, *PAPER_RGB]


def png(ground: Relief) -> bytes:
    """The relief as a small PNG; the same ground gives the same bytes."""
    from PIL import Image

    image: Any = Image.fromarray(ground.shade, mode="P")
    image.putpalette(palette())
    out = io.BytesIO()
    image.save(out, format="PNG", optimize=True)
    return out.getvalue()


def rgb(ground: Relief) -> NDArray[np.uint8]:
    """`(rows, cols, 3)` colours of the relief."""
    return np.array(palette(), dtype=np.uint8).reshape(-1, 3)[ground.shade]


def contours(terrain: Terrain, view: Extent) -> tuple[Shape, ...]:
    """Lines of equal elevation, every fifth one broader and with its elevation written on it."""
    size_m = max(view.east_m - view.west_m, view.north_m - view.south_m) / 160.0
    x = np.arange(view.west_m, view.east_m + size_m, size_m)
    y = np.arange(view.south_m, view.north_m + size_m, size_m)
    z = terrain.ground_m(np.stack(np.meshgrid(x, y), axis=-1))
    known = z[np.isfinite(z)]
    if not known.size or float(np.ptp(known)) < 0.5:
        return ()
    low, high = float(known.min()), float(known.max())
    step = say.round_step((high - low) / 25.0, also=(0.5,))
    levels = np.arange(math.ceil(low / step), math.floor(high / step) + 1) * step
    shapes: list[Shape] = []
    for elevation, lines in zip(levels, _traced(x, y, z, levels), strict=True):
        fifth = round(elevation / step) % 5 == 0
        look = "contour-fifth" if fifth else "contour"
        text = f"{round(float(elevation), 1):g}"
        info = Info("contour", (("elevation", f"{text} m"),))
        for line in lines:
            shapes.append(Shape("line", look, (simplified(line, size_m / 4.0),), info=info))
        longest = max(lines, key=len, default=None)
        if fifth and longest is not None and len(longest) > 12:
            at, turn = _figure(longest)
            shapes.append(Shape("mark", "elevation", (at[None],), tag=text, turn_deg=turn))
    return tuple(shapes)


def _figure(line: Array) -> tuple[Array, float]:
    """Where on a line of equal elevation its figure stands, and how far it is turned clockwise so
    that its top is uphill: contours run with the higher ground to their left."""
    i = len(line) // 2
    ahead = line[min(i + 2, len(line) - 1)] - line[max(i - 2, 0)]
    return line[i], float(np.degrees(np.arctan2(-ahead[1], ahead[0])))


def _traced(x: Array, y: Array, z: Array, levels: NDArray[Any]) -> list[list[Array]]:
    """Per level its lines `(k, 2)`."""
    from contourpy import LineType, contour_generator

    traced = contour_generator(
        x, y, np.ma.masked_invalid(z), name="mpl2014", line_type=LineType.SeparateCode
    )
    found: list[Any] = [traced.lines(float(level))[0] for level in levels]
    return [[line for line in lines if len(line) > 1] for lines in found]
