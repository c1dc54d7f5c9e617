"""storyboard.png: of every shot its line in a shot list, and six frames as the camera sees them.

Read at phone width: two columns. Frames come from the site's own model; what is not known there is
hatched.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from shotplan.aids import frame_view
from shotplan.aids.frame_setting import Kind, Setting
from shotplan.aids.frame_view import Frame
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model import say
from shotplan.output import look, paper, words
from shotplan.output.frames import picture as frame_picture
from shotplan.output.frames.marks import mark
from shotplan.output.frames.moments import Moment, moments
from shotplan.output.frames.shot_line import shot_line
from shotplan.output.lettering import cut, fitting
from shotplan.output.look import WIDE
from shotplan.output.paper import write
from shotplan.output.strip import key
from shotplan.scene.picture import to_rider_m

NAME = "storyboard.png"

EDGE, GAP = 4.0, 6.0
COLUMN = (WIDE - 2.0 * EDGE - GAP) / 2.0
TITLE, LINE, LINES = 120.0, 13.0, 5
ROW, LABEL = 13.5, 34.0  # of the lines of a shot list
DRAWN_PX = 400  # wide each frame is drawn, before it is made smaller
COLOURS = 112
ROMAN = ("i", "ii", "iii", "iv", "v", "vi")
SECOND = "#3b4148"
STEEP_DEG = -75.0  # steeper down there is no away and no nearer
HIDDEN = 0.9  # less of the rider than that shows: something hides him
AHEAD_DEG, BESIDE_DEG, BEHIND_DEG = 30.0, 70.0, 110.0
LEGEND = (
    (Kind.RIDER, "the rider; bracket: how much of the frame's height; arrow: which way"),
    (Kind.CREW, "somebody of the crew, where they stand; a ring: the place a shot is about"),
    (Kind.TRACK, "the ride, all of it"),
    (Kind.GROUND, "ground; its lines make squares of 10 m, along north and east"),
    (Kind.UNKNOWN, "hatched: ground that was not given; anything may be there"),
)
NOTES = (
    "Disc: the sun. At the edge it says which way the sun is; hollow: behind the camera.",
    "The undisturbed ride, on the first take. Crowns are drawn rounded inside the solid that is",
    "reckoned with, wires thicker than they are. What is not on your map is not in these pictures.",
)


def output(plan: Plan) -> dict[str, bytes]:
    """The file's name and bytes."""
    return {NAME: png(plan)}


class Caption(NamedTuple):
    """What stands under a frame: `head` in bold, then a wording or more of each line, the longest
    first."""

    head: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]


def png(plan: Plan) -> bytes:
    """Every shot's six frames; the same plan, the same bytes."""
    frame_high = COLUMN / plan.outing.aircraft.camera.aspect
    row_high = frame_high + LINE * LINES + 12.0
    picked = [moments(shot) for shot in plan.shots]
    tops, at = [], 4.0
    for found in picked:
        tops.append(at)
        at += TITLE + row_high * math.ceil(len(found) / 2.0)
    high = at + 15.0 * (len(LEGEND) + len(NOTES)) + 10.0
    axes = paper.sheet(WIDE, round(2.0 * high) / 2.0)
    for index, (shot, found) in enumerate(zip(plan.shots, picked, strict=True)):
        setting = Setting(scene=shot.scene, path_m=plan.outing.ride.xyz_m[0])
        frames = tuple(frame_view.frame(setting, m.sample, DRAWN_PX) for m in found)
        _heading(axes, tops[index], shot, words.letter(index))
        _listed(axes, tops[index] + 40.0, shot_line(plan, index, frames))
        for k, (moment, frame) in enumerate(zip(found, frames, strict=True)):
            left = EDGE + (k % 2) * (COLUMN + GAP)
            top = tops[index] + TITLE + (k // 2) * row_high
            _frame(axes, frame, left, top, frame_high, rings(shot))
            said = caption(shot, frame, moment, ROMAN[k])
            _under(axes, left, top + frame_high + 11.0, said)
    _legend(axes, at)
    return _packed(paper.footed(paper.pixels(axes.figure), words.made(plan.outing)))


def _heading(axes: Any, top: float, shot: ShotPlan, letter: str) -> None:
    axes.plot([EDGE, WIDE - EDGE], [top + 29.5] * 2, color=look.INK, linewidth=1.6)
    word = key.chip(axes, WIDE - EDGE, top + 5.0, shot.verdict, size=11.0)
    name = cut(f"{letter}  {shot.scene.shot.name}", word - EDGE - 8.0, size=13.0, bold=True)
    write(axes, EDGE, top + 16.0, name, size=13.0, bold=True)


def _listed(axes: Any, top: float, rows: tuple[tuple[str, str], ...]) -> None:
    """The lines of a shot list."""
    for k, (label, text) in enumerate(rows):
        write(axes, EDGE, top + ROW * k, label, size=9.5, ink=SECOND)
        most = 2 if k == len(rows) - 1 else 1
        said = paper.wrapped(text, WIDE - 2.0 * EDGE - LABEL, size=10.0, lines=most)
        for row, line in enumerate(said, start=k):
            write(axes, EDGE + LABEL, top + ROW * row, line, size=10.0)


def rings(shot: ShotPlan) -> tuple[tuple[Any, str], ...]:
    """What the style is about, as points with names."""
    site, stage = shot.scene.site, shot.scene.stage
    ids = (one for one in shot.scene.shot.style.places() if one in stage.places)
    return tuple((stage.places[one], words.named(site, one)) for one in ids)


def _frame(
    axes: Any, frame: Frame, left: float, top: float, high: float,
    about: tuple[tuple[Any, str], ...],
) -> None:  # fmt: skip
    from PIL import Image

    rows, cols = round(2.0 * high), round(2.0 * COLUMN)
    image = Image.fromarray(frame_picture.rgb(frame)).resize((cols, rows), Image.Resampling.LANCZOS)
    box = (left, left + COLUMN, top + high, top)
    axes.imshow(np.asarray(image), extent=box, interpolation="nearest", aspect="auto", zorder=1.0)
    mark(axes, frame, (left, top), COLUMN / frame.view.cols, about)
    x, y = [left, left + COLUMN], [top, top + high]
    axes.plot([x[0], x[1], x[1], x[0], x[0]], [y[0], y[0], y[1], y[1], y[0]], color=look.INK,
              linewidth=0.8, zorder=9.0)  # fmt: skip


def caption(shot: ShotPlan, frame: Frame, moment: Moment, tag: str) -> Caption:
    """What is said of a frame."""
    scene, i = shot.scene, moment.sample
    track = scene.track
    away = float(np.linalg.norm(to_rider_m(scene)[i]))
    why = moment.why.split("; ") if moment.why else ["on the way"]
    tilt = round(math.degrees(frame.view.elevation_rad))
    tilts = "level" if tilt == 0 else f"tilt {abs(tilt)}° {'down' if tilt < 0 else 'up'}"
    lines = (
        (f"{abs(track.ride.t_s[i]):.1f} s, at {track.ride.along_m[0, i]:.0f} m",),
        (f"{say.metres(away)} to the rider, {tilts}", f"{away:.0f} m to the rider, {tilts}"),
        _rides(frame),
        _sun(frame),
    )
    heads = [f"{tag}  {'; '.join(why[: k + 1])}" for k in reversed(range(len(why)))]
    return Caption((*heads, f"{tag}  {why[0]}"), lines)


def _rides(frame: Frame) -> tuple[str, ...]:
    rider = frame.rider
    if frame.inside:
        return (f"the camera is inside {frame.inside}", f"camera inside {frame.inside}")
    if math.isnan(rider.seen):
        return ("the rider is not in the picture", "rider not in the picture")
    if rider.seen < HIDDEN:
        much = "hidden" if rider.seen < 1.0 - HIDDEN else "half hidden"
        by = f" by {rider.hidden_by}" if rider.hidden_by else ""
        return (f"rider {much}{by}", f"{much}{by}")
    right, nearer = rider.heads
    ways = ["to the right" if right > 0.0 else "to the left", "nearer" if nearer > 0.0 else "away"]
    if frame.view.elevation_rad < math.radians(STEEP_DEG):
        ways[1] = "to the bottom" if nearer > 0.0 else "to the top"
    steep = abs(math.sin(frame.view.elevation_rad))
    shares = (abs(right), abs(nearer) / max(steep, 0.15))
    kept = [w for w, s in zip(ways, shares, strict=True) if s > 0.38 * max(shares)]
    return ("rides " + ", ".join(reversed(kept)),)


def _sun(frame: Frame) -> tuple[str, ...]:
    sun = frame.sun
    if not sun.up:
        return ("the sun is down",)
    turn = math.atan2(sun.toward_m[0], sun.toward_m[1]) - frame.view.azimuth_rad
    turn = math.degrees(math.remainder(turn, 2.0 * math.pi))
    side = "right" if turn > 0.0 else "left"
    if abs(turn) < AHEAD_DEG:
        where = "ahead"
    elif abs(turn) < BESIDE_DEG:
        where = f"ahead, {side}"
    elif abs(turn) < BEHIND_DEG:
        where = f"from the {side}"
    else:
        where = f"behind, {side}" if abs(turn) < 180.0 - AHEAD_DEG else "behind"
    up = math.degrees(math.asin(min(1.0, float(sun.toward_m[2]))))
    return (f"sun {where}, {up:.0f}° up", f"sun {where}")


def _under(axes: Any, left: float, top: float, said: Caption) -> None:
    heads = [h for h in said.head if cut(h, COLUMN, bold=True) == h] or [said.head[-1]]
    write(axes, left, top, cut(heads[0], COLUMN, bold=True), bold=True)
    for k, wordings in enumerate(said.lines, start=1):
        for text in fitting([(w,) for w in wordings], COLUMN):
            write(axes, left, top + LINE * k, text)


def _legend(axes: Any, top: float) -> None:
    colours = {**frame_picture.SOLID, Kind.GROUND: frame_picture.GENTLE,
               Kind.UNKNOWN: frame_picture.UNKNOWN}  # fmt: skip
    y = top + 8.0
    for kind, text in LEGEND:
        fill = tuple(c / 255.0 for c in colours[kind])
        hatch = "////" if kind is Kind.UNKNOWN else None
        paper.box(axes, EDGE, y - 5.0, 18.0, 10.0, facecolor=fill, linewidth=0.8, hatch=hatch,
                  edgecolor="#8a8a88")  # fmt: skip
        write(axes, EDGE + 24.0, y, text, size=9.0)
        y += 15.0
    for text in NOTES:
        write(axes, EDGE, y, text, size=8.0)
        y += 13.0


def _packed(pixels: Any) -> bytes:
    """A PNG of few colours. Those that are rare and matter are given weight first: the
    rider is a few pixels of many."""
    import io

    from PIL import Image, ImageColor

    image = Image.fromarray(np.ascontiguousarray(pixels))
    rare = [frame_picture.SOLID[kind] for kind in (Kind.RIDER, Kind.CREW, Kind.TREE)]
    rare += [ImageColor.getrgb(v.line)[:3] for v in look.VERDICTS.values()]
    shades = [
        tuple(round(c * s) for c in one) for one in rare for s in (0.55, 0.75, 0.9, 1.0, 1.08)
    ]
    band = max(1, image.height // (8 * len(shades)))
    weighed = Image.new("RGB", (image.width, image.height + band * len(shades)))
    weighed.paste(image, (0, 0))
    for k, shade in enumerate(shades):
        top = image.height + k * band
        weighed.paste(shade, (0, top, image.width, top + band))
    palette = weighed.quantize(COLOURS, dither=Image.Dither.NONE)
    out = io.BytesIO()
    few = image.quantize(palette=palette, dither=Image.Dither.NONE)
    few.save(out, format="PNG", compress_level=9)
    return out.getvalue()
