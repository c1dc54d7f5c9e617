"""A frame in colours: own, plain, and as far apart in grey as they are in colour."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.aids.frame_setting import Kind
from shotplan.aids.frame_view import Frame
from shotplan.model.arrays import Array, Bools

SKY_TOP, SKY_LOW = (118, 155, 188), (222, 230, 232)
GENTLE, STEEP = (184, 176, 128), (138, 126, 112)  # ground, by its slope
STEEP_IS = (0.35, 1.1)  # rise over run between which it turns to rock
SOLID = {
    Kind.WATER: (84, 121, 142),
    Kind.TRACK: (203, 188, 156),
    Kind.TREE: (74, 106, 70),
    Kind.TRUNK: (92, 74, 58),
    Kind.WOOD: (62, 92, 66),
    Kind.BUILDING: (158, 138, 122),
    Kind.POLE: (72, 66, 60),
    Kind.WIRE: (20, 22, 26),
    Kind.RIDER: (232, 106, 42),
    Kind.CREW: (96, 82, 150),
}
UNKNOWN, HATCH = (205, 205, 203), (172, 172, 171)
HATCH_PX, HATCH_LINE_PX = 14, 3
HAZE_M = 2600.0  # far things fade into the sky's edge
MESH_M = 10.0  # squares drawn on the ground
RUNGS_M = 2.0  # of elevation from line to line on woods
MESH_PX = 0.75  # half the width of their lines
MESH_FADES = (0.35, 0.08)  # of a square to a pixel, between which lines fade in
DARK_DEG = (6.0, -8.0)  # the sun's elevations between which the day's colours go
DARKEST = 0.8
EXPOSED, MOST_EXPOSED = 0.92, 1.9  # a camera lets in light until what it sees is so bright


def rgb(frame: Frame) -> NDArray[np.uint8]:
    """`(rows, cols, 3)` of one frame."""
    ground, wood, unknown, sky = (
        frame.kind == kind for kind in (Kind.GROUND, Kind.WOOD, Kind.UNKNOWN, Kind.SKY)
    )
    lines = np.where(ground, _mesh(frame, (0, 1), MESH_M), 0.0)
    if wood.any():
        lines = np.where(wood, _mesh(frame, (2,), RUNGS_M), lines)
    lines = 1.0 - 0.13 * lines
    colour = _base(frame, ground) * frame.light * _exposure(frame) * lines
    _water(frame, colour)
    air = np.exp(-frame.away_m / HAZE_M)
    low = np.array(SKY_LOW, dtype=float)[:, None, None]
    colour = colour * air + low * (1.0 - air)
    colour[:, sky] = _sky(frame, sky)
    colour *= _day(frame)[:, None, None]
    colour[:, unknown] = _hatched(unknown)
    drawn = np.asarray(np.clip(np.rint(colour), 0, 255), dtype=np.uint8)
    return np.ascontiguousarray(np.moveaxis(drawn, 0, -1))


def _exposure(frame: Frame) -> float:
    """How much more light the camera lets in where most of what it sees lies in the shade."""
    drawn = (frame.kind != Kind.SKY) & (frame.kind != Kind.UNKNOWN)
    middle = float(frame.light[drawn].mean()) if drawn.any() else EXPOSED
    return float(np.clip(EXPOSED / max(middle, 1e-6), 1.0, MOST_EXPOSED))


def _base(frame: Frame, ground: Bools) -> Array:
    """`(3, rows, cols)`: what things are of, and the ground by its slope."""
    table = np.zeros((len(Kind), 3))
    for kind, one in SOLID.items():
        table[kind] = one
    rock = np.clip((frame.slope - STEEP_IS[0]) / (STEEP_IS[1] - STEEP_IS[0]), 0.0, 1.0)
    colours = zip(table.T, GENTLE, STEEP, strict=True)
    return np.stack([
        np.where(ground, gentle + rock * (float(steep) - gentle), own[frame.kind])
        for own, gentle, steep in colours
    ])  # fmt: skip


def _mesh(frame: Frame, axes: tuple[int, ...], step_m: float) -> Array:
    """How much of each pixel is a line, every so many metres along axes of the frame."""
    drawn = np.zeros(frame.kind.shape)
    for axis in axes:
        at = frame.at_m[..., axis] / step_m
        down, across = np.gradient(at)
        per_px = np.hypot(down, across)
        off = np.abs(at - np.rint(at)) / np.maximum(per_px, 1e-9)
        line = np.clip(MESH_PX + 0.5 - off, 0.0, 1.0)
        fade = np.clip((MESH_FADES[0] - per_px) / (MESH_FADES[0] - MESH_FADES[1]), 0.0, 1.0)
        drawn = np.maximum(drawn, line * fade)
    return drawn


def _water(frame: Frame, colour: Array) -> None:
    """Water takes the sky's colour where one looks along it, and glitters below the sun."""
    wet = frame.kind == Kind.WATER
    if not wet.any():
        return
    way = _ways(frame, wet)
    shown = colour[:, wet]
    along = (1.0 + np.minimum(way[2], 0.0)) ** 4
    shown += 0.55 * along * (np.array(SKY_LOW, dtype=float)[:, None] - shown)
    if frame.sun.up:
        near = np.maximum(_cosine(way * [[1.0], [1.0], [-1.0]], frame.sun.toward_m), 0.0) ** 40
        shown += near * (np.array([255.0, 250.0, 236.0])[:, None] - shown) * 0.8
    colour[:, wet] = shown


def _ways(frame: Frame, mine: Bools) -> Array:
    """`(3, n)` unit vectors from the eye through those pixels."""
    way = frame.way[mine].T
    return np.asarray(way / np.linalg.norm(way, axis=0))


def _cosine(way: Array, toward_m: Array) -> Array:
    east, north, up = (part * to for part, to in zip(way, toward_m, strict=True))
    return np.asarray(east + north + up)


def _sky(frame: Frame, sky: Bools) -> Array:
    """`(3, n)` its colours, in its pixels."""
    way = _ways(frame, sky)
    up = np.clip(way[2], 0.0, 1.0) ** 0.6
    low = np.array(SKY_LOW, dtype=float)[:, None]
    shown = low + up * (np.array(SKY_TOP, dtype=float)[:, None] - low)
    if frame.sun.up:
        near = np.maximum(_cosine(way, frame.sun.toward_m), 0.0)
        glow = 0.5 * near**12 + 0.5 * near**90
        shown = shown + glow * (np.array([255.0, 246.0, 220.0])[:, None] - shown)
    return np.asarray(shown)


def _day(frame: Frame) -> Array:
    """Darker and bluer as the sun goes; never so dark that nothing is seen."""
    elevation = np.degrees(np.arcsin(np.clip(frame.sun.toward_m[2], -1.0, 1.0)))
    share = np.clip((elevation - DARK_DEG[1]) / (DARK_DEG[0] - DARK_DEG[1]), 0.0, 1.0)
    dark = DARKEST + (1.0 - DARKEST) * share
    return np.asarray(dark * (1.0 - (1.0 - share) * np.array([0.12, 0.06, 0.0])))


def _hatched(unknown: Bools) -> Array:
    """`(3, n)` the colours of ground that is not known, in its pixels."""
    stripe = np.add(*np.nonzero(unknown)) % HATCH_PX < HATCH_LINE_PX
    return np.where(stripe, np.array(HATCH, dtype=float)[:, None], np.array(UNKNOWN)[:, None])
