"""The ride pulled straight, for who rides it: what one passes, where each shot begins and ends and
where it then is, the pace. Black on white; names from files are text only."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.judging.judged import Plan, ShotPlan
from shotplan.model import say
from shotplan.output import paper
from shotplan.output import stop as stops
from shotplan.output.brief.doing import pace
from shotplan.output.lettering import cut, wide
from shotplan.output.words import letter, plain
from shotplan.scene.landmarks import paces

WIDE = 536.0
DPI = 150
EDGE = 10.0
LANE, LANES = 14.0, 3
ROW = 44.0
TYPE = 10.0
MOST_M = 30.0  # before the first shot and after the last


def png(plan: Plan) -> bytes:
    """Landmarks in lanes over the line, shots under it, the pace and metres below."""
    shots = stops.told(plan)
    ride = plan.outing.ride.along_m[0]
    low = max(min(plan.shots[i].ride_from_m for i in shots) - MOST_M, float(ride[0]))
    high = min(max(plan.shots[i].ride_to_m for i in shots) + MOST_M, float(ride[-1]))
    rows = _rows(plan, shots)
    count = max(rows.values()) + 1
    line = LANES * LANE + 14.0
    axes = paper.sheet(WIDE, line + 22.0 + ROW * count + 22.0, DPI, paper="white")

    def x(along_m: float) -> float:
        return float(EDGE + (along_m - low) / (high - low) * (WIDE - 2.0 * EDGE))

    _landmarks(axes, plan, (low, high), x, line)
    axes.plot([x(low), x(high)], [line] * 2, color="black", linewidth=2.2, zorder=3.0)
    for at in np.arange(x(low) + 20.0, x(high), 60.0):
        axes.plot([at - 4.0, at, at - 4.0], [line - 4.0, line, line + 4.0], color="black",
                  linewidth=1.6, zorder=3.0)  # fmt: skip
    for i in shots:
        later = [plan.shots[k].ride_from_m for k in shots if rows[k] == rows[i]
                 and plan.shots[k].ride_from_m > plan.shots[i].ride_from_m]  # fmt: skip
        room = x(min(later)) - 10.0 if later else WIDE + 200.0
        _shot(axes, plan.shots[i], letter(i), x, line + 20.0 + ROW * rows[i], room)
    _scale(axes, low, high, x, line + 24.0 + ROW * count)
    return paper.png(axes.figure, colours=16)


def _rows(plan: Plan, shots: list[int]) -> dict[int, int]:
    """Shots that overlap under each other."""
    ends: list[float] = []
    found = {}
    for i in sorted(shots, key=lambda k: plan.shots[k].ride_from_m):
        one = plan.shots[i]
        row = next((r for r, end in enumerate(ends) if end + 20.0 <= one.ride_from_m), len(ends))
        ends[row : row + 1] = [one.ride_to_m]
        found[i] = row
    return found


def _landmarks(axes: Any, plan: Plan, span: tuple[float, float], x: Any, line: float) -> None:
    inside = [m for m in plan.marks if span[0] <= m.along_m <= span[1]]
    inside.sort(key=lambda m: (not m.named, m.away_m, m.along_m))
    names = [
        (plain(m.called) + ("" if m.side == "on" else f", {m.side}"), x(m.along_m)) for m in inside
    ]
    for laned in paper.lanes(names, (EDGE, WIDE - EDGE), most=150.0,
                             order=range(LANES - 1, -1, -1), size=TYPE):  # fmt: skip
        at, top = names[laned.number][1], LANE * (laned.lane + 0.5) + 2.0
        paper.write(axes, laned.left, top, laned.text, size=TYPE, ink="black")
        axes.plot([at, at], [top + 7.0, line], color="black", linewidth=0.8, linestyle=(0, (1, 2)))


def _shot(axes: Any, one: ShotPlan, name: str, x: Any, y: float, room: float) -> None:
    """A hatched bar from a disc, where it is of the rider and his pace, as far as to `room`."""
    left, right = x(one.ride_from_m), x(one.ride_to_m)
    axes.plot([left, right], [y, y], color="black", linewidth=6.0, linestyle=(0, (0.35, 0.45)),
              dash_capstyle="butt", zorder=3.0)  # fmt: skip
    axes.plot([left], [y], "o", color="black", markersize=15.0, markeredgecolor="white", zorder=4.0)
    paper.write(axes, left, y, name, size=10.0, bold=True, ink="white", align="center", zorder=5.0)
    for k, told in enumerate((where(one), pace([one]))):
        text = cut(told, room - left - 14.0, size=TYPE)
        at = min(left + 12.0, WIDE - EDGE - wide(text, TYPE))
        paper.write(axes, at, y + 13.0 + 12.0 * k, text, size=TYPE, ink="black")


def where(one: ShotPlan) -> str:
    """`it is 13 paces right of you`, in the middle of the shot."""
    ride, track = one.scene.track.ride, one.scene.track
    i = int(np.flatnonzero(ride.filming[0])[ride.filming[0].sum() // 2])
    off = track.xyz_m[0, i, :2] - ride.xyz_m[0, i, :2]
    course = float(ride.course_rad[0, i]) if ride.course_rad.ndim > 1 else float(ride.course_rad[i])
    away = float(np.hypot(*off))
    if away < 1.0:
        return "it is over you"
    turn = (np.degrees(np.arctan2(off[0], off[1]) - course) + 180.0) % 360.0 - 180.0
    sides = (
        (45.0, "ahead of"),
        (135.0, "right of" if turn > 0.0 else "left of"),
        (181.0, "behind"),
    )
    side = next(words for most, words in sides if abs(turn) <= most)
    return f"it is {paces(away)} paces {side} you"


def _scale(axes: Any, low: float, high: float, x: Any, y: float) -> None:
    step = say.round_step((high - low) / 6.0)
    axes.plot([x(low), x(high)], [y, y], color="black", linewidth=0.9)
    for at in np.arange(np.ceil(low / step) * step, high + 1e-6, step):
        axes.plot([x(at)] * 2, [y, y + 5.0], color="black", linewidth=1.0)
        paper.write(axes, min(x(at), WIDE - 24.0), y + 13.0, f"{at:.0f} m", size=9.0, ink="black",
                    align="center")  # fmt: skip
