"""watch-1.png, watch-2.png: for everybody who stands and watches, the aircraft's way across the
skyline they see, shot by shot, measured in fists and little fingers.

A fist at arm's length is about 10° wide, a little finger 1° (common practice). Read at phone
width. Names from files are text only.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from shotplan.aids.compass import declination, magnetic_rad
from shotplan.aids.skyline import nearest_turn
from shotplan.judging.judged import Plan
from shotplan.kernels.light.light import GLARE_DEG
from shotplan.model import say
from shotplan.model.day import Person
from shotplan.model.ride import STEP_S
from shotplan.output import first, look, paper, words
from shotplan.output.lettering import SMALL, cut
from shotplan.output.look import WIDE
from shotplan.output.watch import names, picture
from shotplan.output.watch.view import Gap, Looked, looked
from shotplan.output.watch.watched import Sight
from shotplan.output.words import plain
from shotplan.scene.eyesight import range_m
from shotplan.scene.landmarks import near, say_place

EDGE = 6.0
ACROSS = WIDE - 2.0 * EDGE
HIGH = 250.0  # of a panorama at most
LINE = 12.5
TITLE, HEAD, UNDER, INSET = 44.0, 40.0, 36.0, 46.0
FINGER = 46.0  # a little finger in the inset, pixels for its degree
LEGEND = (
    "A fist at arm's length is 10° wide, a little finger 1°: ticks are fingers, long ones fists. "
    "Turn to the compass bearing, count along the horizon, then up or down from eye level.",
    "Even line: seen. Broken: not seen. Dots: not known. Arrow heads: which way it flies. This is "
    "the undisturbed ride on its first take. Trees and woods are the upright solids that are "
    "reckoned with; what is not on your map is not in this picture.",
)


def output(plan: Plan) -> dict[str, bytes]:
    """The files' names and bytes; none where nobody stands and watches."""
    return {f"watch-{i}.png": png(plan, p) for i, p in enumerate(standing(plan), start=1)}


def standing(plan: Plan) -> tuple[Person, ...]:
    """Pilots, then spotters, of those who do not ride."""
    day = plan.outing.day
    return tuple(
        p for p in dict.fromkeys((*day.who("pilot"), *day.who("spotter"))) if "rider" not in p.roles
    )


class _Panel(NamedTuple):
    """One shot: its head, and what is seen (None: not known where they stand); `lines` of text
    under it, bold ones first in their pair."""

    head: str
    stands: str
    one: Looked | None
    lines: tuple[tuple[bool, str], ...]


def png(plan: Plan, person: Person) -> bytes:
    """Everything one person sees; the same plan, the same bytes."""
    panels = [_panel(plan, person, i) for i in range(len(plan.shots))]
    frames = [None if p.one is None else names.frame_at(p.one, EDGE, HEAD, ACROSS) for p in panels]
    legend = [line for text in LEGEND for line in paper.wrapped(text, ACROSS, size=SMALL)]
    tops, y = [], TITLE
    for panel, frame in zip(panels, frames, strict=True):
        tops.append(y)
        y += HEAD + LINE * len(panel.lines) + 12.0
        if frame is not None:
            y += frame.bottom - HEAD + UNDER + INSET
    axes = paper.sheet(WIDE, math.ceil(y + LINE * len(legend) + 8.0))
    roles = " and ".join(r for r in ("pilot", "spotter") if r in person.roles)
    title = cut(f"What {plain(person.name)} sees ({roles})", ACROSS, size=13.0, bold=True)
    paper.write(axes, EDGE, 15.0, title, size=13.0, bold=True)
    when = first.begins(plan.outing.day)
    where = cut(f"{when}, {plan.outing.titled}", ACROSS, size=SMALL)
    paper.write(axes, EDGE, 32.0, where, size=SMALL)
    for panel, frame, top in zip(panels, frames, tops, strict=True):
        _draw(axes, panel, frame, top)
    for k, line in enumerate(legend):
        paper.write(axes, EDGE, y + LINE * (k + 0.5), line, size=SMALL)
    return paper.packed(paper.footed(paper.pixels(axes.figure), words.made(plan.outing)))


def _panel(plan: Plan, person: Person, index: int) -> _Panel:
    shot = plan.shots[index]
    one = looked(shot, words.letter(index), person, ACROSS, HIGH)
    head = f"{words.letter(index)}  {plain(shot.scene.shot.name)}"
    if one is None:
        place = shot.scene.stand_of(person)
        why = "the ground there is not known" if place else "it is not said where"
        text = f"What is seen from there is not known: {why}."
        return _Panel(head, "stands: not known", None, _wrapped([(True, text)]))
    told = [
        (True, _bearing(one)),
        *((False, _tick(plan, one, i)) for i in one.ticks),
        *((True, _gap(one, g)) for g in one.gaps),
        *((False, line) for line in (_sun(one), _ground(one)) if line),
    ]
    return _Panel(head, f"stands at {one.place}", one, _wrapped(told))


def _wrapped(told: list[tuple[bool, str]]) -> tuple[tuple[bool, str], ...]:
    return tuple(
        (bold, line)
        for bold, text in told
        for line in paper.wrapped(text, ACROSS, size=SMALL, bold=bold, lines=3)
    )


def _draw(axes: Any, panel: _Panel, frame: names.Frame | None, top: float) -> None:
    axes.plot([EDGE, WIDE - EDGE], [top + 2.0] * 2, color=look.INK, linewidth=1.4)
    paper.write(axes, EDGE, top + 14.0, cut(panel.head, ACROSS, size=11.5, bold=True), size=11.5,
                bold=True)  # fmt: skip
    paper.write(axes, EDGE, top + 29.0, cut(panel.stands, ACROSS, size=SMALL), size=SMALL)
    y = top + HEAD
    if frame is not None and panel.one is not None:
        at = frame._replace(top=frame.top + top, bottom=frame.bottom + top)
        picture.draw(axes, at, panel.one)
        for x, text, side in ((at.left, "LEFT", "left"), (at.right, "RIGHT", "right")):
            paper.write(axes, x, at.bottom + 27.0, text, size=8.0, bold=True, align=side)
        paper.write(axes, WIDE / 2.0, at.bottom + 27.0, "fists from where it begins", size=8.0,
                    align="center")  # fmt: skip
        _size(axes, at.bottom + UNDER, panel.one)
        y = at.bottom + UNDER + INSET
    for k, (bold, line) in enumerate(panel.lines):
        paper.write(axes, EDGE, y + LINE * (k + 0.5), line, size=SMALL, bold=bold)


# -- words


def _bearing(one: Looked) -> str:
    """Where to turn to: once by the compass, for the zero of the scale."""
    frame, scene = one.shot.scene.site.frame, one.shot.scene
    true = math.degrees(one.zero_rad) % 360.0
    needle = declination(frame.lon_deg, frame.lat_deg, float(one.around.eye_m[2]), scene.moments[0])
    if needle is None:
        return (
            f"0 is where it begins: {true:.0f}° from true north; how the needle lies is not known"
        )
    shown = round(math.degrees(magnetic_rad(one.zero_rad, needle))) % 360
    off = math.degrees(needle.east_rad)
    side = "east" if off > 0.0 else "west"
    return (
        f"0 is where it begins: {shown}° on the compass ({true:.0f}° true; the needle points "
        f"{abs(off):.0f}° {side}, {plain(needle.model)})"
    )


def _tick(plan: Plan, one: Looked, i: int) -> str:
    """`10 s: 3 left, 1 up, 84 m off; rider 12 m before the gate`."""
    track = one.shot.scene.track
    speed = float(track.ride.speed_m_s[0, i])
    along = float(track.ride.along_m[0, i])
    where, mark = f"at {along:.0f} m", near(plan.marks, along)
    if mark is not None:
        beside = f" ({mark.side}, {mark.away_m:.0f} m)"
        where = say_place((mark,), along, speed).removesuffix(beside)
    return (
        f"{_second(one, i)} s: {_look(one, i)}, {one.seen.slant_m[i]:.0f} m off; "
        f"rider {plain(where)}"
    )


def _second(one: Looked, i: int) -> int:
    return round(float(one.shot.scene.track.ride.t_s[i]))


def _look(one: Looked, i: int) -> str:
    """`3 left, 1 up`: fists."""
    azimuth = one.azimuth_rad[i] if np.isfinite(one.azimuth_rad[i]) else one.azimuth_rad[i - 1]
    across = fists(float(azimuth) - one.zero_rad, "left", "right")
    return f"{across}, {fists(float(one.elevation_rad[i]), 'down', 'up')}"


def fists(angle_rad: float, less: str, more: str) -> str:
    """`2½ right`, in halves; `0` near nothing."""
    halves = round(abs(math.degrees(angle_rad)) / 5.0)
    if halves == 0:
        return "0" if more == "right" else "eye level"
    whole, half = divmod(halves, 2)
    return f"{whole or ''}{'½' if half else ''} {more if angle_rad > 0.0 else less}"


def _gap(one: Looked, gap: Gap) -> str:
    t = one.shot.scene.track.ride.t_s
    first, last = max(float(t[gap.low]), 0.0), float(t[gap.high - 1]) + STEP_S
    span = f"{first:.1f} to {last:.1f} s ({say.seconds(gap.seconds)})"
    match gap.sight:
        case Sight.HIDDEN:
            return f"{span}: not seen, hidden by {gap.by}"
        case Sight.FAR:
            return f"{span}: farther than {range_m(one.shot.scene)[0]:.0f} m, too small to steer by"
        case _:
            return f"{span}: not known whether it is seen"


def _sun(one: Looked) -> str:
    sun = one.sun
    if sun.elevation_rad <= 0.0:
        return ""
    off = float(nearest_turn(np.array([sun.azimuth_rad]), one.zero_rad)[0]) - one.zero_rad
    behind = "behind you, " if abs(off) > math.pi / 2.0 else ""
    where = f"{behind}{fists(off, 'left', 'right')}, {fists(sun.elevation_rad, 'down', 'up')}"
    if not sun.shines:
        return f"Sun: {where}, behind the ground."
    if not sun.dazzles.any():
        return f"Sun: {where}; it never flies within {GLARE_DEG:.0f}° of it."
    t = one.shot.scene.track.ride.t_s[sun.dazzles.astype(bool)]
    lasts = say.seconds(float(sun.dazzles.sum()) * STEP_S)
    return (
        f"Sun: {where}; broken ring: {GLARE_DEG:.0f}° about it. You look into it for {lasts}, "
        f"between {t[0]:.0f} and {t[-1]:.0f} s: shade your eyes."
    )


def _ground(one: Looked) -> str:
    """Where the ground that is known ends."""
    known = one.around.known_m[np.isfinite(one.around.known_m)]
    if not len(known):
        return ""
    low, high = math.floor(known.min() / 10.0) * 10, math.ceil(known.max() / 10.0) * 10
    part = "" if len(known) == len(one.around.known_m) else " in part of the view"
    return (
        f"Hatched: the ground is known only {low} to {high} m out{part}; what stands beyond, and "
        "how high, is not known."
    )


# -- apparent size


def _size(axes: Any, top: float, one: Looked) -> None:
    """A little finger and the aircraft, nearest and farthest, to one scale."""
    slant, span = one.seen.slant_m, one.shot.scene.aircraft.span_m
    middle = top + 20.0
    _finger(axes, EDGE, middle)
    x = EDGE + FINGER + 12.0
    for i, called in ((int(np.argmin(slant)), "nearest"), (int(np.argmax(slant)), "farthest")):
        away = float(slant[i])
        degrees = math.degrees(2.0 * math.atan(0.5 * span / max(away, 0.5 * span)))
        long = max(degrees * FINGER, 0.8)
        y = middle - 8.0 if called == "nearest" else middle + 8.0
        end = x + min(long, 2.2 * FINGER)
        axes.plot(
            [x, end], [y, y], color=look.INK, linewidth=5.0, solid_capstyle="butt", zorder=4.0
        )
        said = f"{called}, {say.metres(away)} ({_second(one, i)} s): {as_wide(degrees)}"
        paper.write(axes, end + 7.0, y, cut(said, WIDE - EDGE - end - 7.0, size=SMALL), size=SMALL)


def _finger(axes: Any, left: float, middle: float) -> None:
    """A finger tip, one degree wide, upright."""
    from matplotlib.patches import FancyBboxPatch

    shape = FancyBboxPatch(
        (left, middle - 15.0), FINGER, 34.0, boxstyle="round,pad=0,rounding_size=14",
        facecolor="#e6dccb", edgecolor=look.INK, linewidth=0.9, zorder=3.0,
    )  # fmt: skip
    axes.add_patch(shape)
    paper.write(axes, left + FINGER / 2.0, middle - 3.0, "little", size=8.0, align="center")
    paper.write(axes, left + FINGER / 2.0, middle + 8.0, "finger", size=8.0, align="center")


def as_wide(degrees: float) -> str:
    """`as wide as 1/6 of your little finger`."""
    if degrees >= 1.5:
        return f"{degrees:.0f} little fingers wide"
    if degrees >= 0.75:
        return "as wide as your little finger"
    return f"as wide as 1/{round(1.0 / degrees)} of your little finger"


def lines(plan: Plan, person: Person) -> Iterator[str]:
    """Everything that is written under the pictures, for who cannot see them."""
    for index in range(len(plan.shots)):
        panel = _panel(plan, person, index)
        yield panel.head
        yield from (text for _, text in panel.lines)
