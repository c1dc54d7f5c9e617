"""What is written into a side view: what the display reads, names in the ground beneath, the worst
place, the last calls."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import ShotPlan
from shotplan.model.verdict import Verdict
from shotplan.output import look, measures, paper, words
from shotplan.output.lettering import wide
from shotplan.output.look import WIDE
from shotplan.output.strip.side_view import SideView, Standing

SIZE = 8.5
LANES, LANE = 2, 0.08  # of names, each so much of the panel's height
NAMED = 6  # things with a name at most
DISPLAYS = 5
MOST_CALLS = 4


def draw(axes: Any, view: SideView, shot: ShotPlan, letter: str) -> None:
    """All of it."""
    box = axes.get_window_extent()
    long, high = (72.0 / axes.figure.dpi * v for v in (box.width, box.height))
    _names(axes, view, long)
    _displays(axes, view, shot)
    _calls(axes, view, shot, letter, (long, high))
    _worst(axes, view, shot, letter)


def called(one: Standing) -> str:
    """`Spruce wood, 3 m right`."""
    side = "right" if one.right_m > 0.0 else "left"
    where = f"{one.away_m:.0f} m {side}" if one.away_m >= 0.5 else "across its way"
    unknown = ", height not known" if np.isinf(one.top_m[~np.isnan(one.top_m)]).any() else ""
    return f"{one.label}, {where}{unknown}"


def half_metres(value: float) -> str:
    """`6.5`, as finely as a display is read."""
    return f"{round(2.0 * value) / 2.0 + 0.0:g}".replace("-", "−")


def _names(axes: Any, view: SideView, long: float) -> None:
    """The nearest things in the ground beneath, as many as have room."""
    per_x = long / max(float(view.x[-1] - view.x[0]), 1.0)
    names = [
        (called(one), float(view.x[one.nearest] - view.x[0]) * per_x)
        for one in view.standing[:NAMED]
    ]
    low, high = axes.get_ylim()
    for laned in paper.lanes(names, (2.0, long - 2.0), most=0.45 * WIDE, order=range(LANES),
                             size=SIZE, gap=8.0):  # fmt: skip
        at, y = names[laned.number][1] / long, (LANES - laned.lane - 0.4) * LANE
        paper.write(axes, laned.left / long, y, laned.text, size=SIZE, va="center", zorder=5.0,
                    transform=axes.transAxes, path_effects=_halo())  # fmt: skip
        foot = float(view.rider_m[view.standing[laned.number].nearest])
        axes.plot([at] * 2, [y + 0.5 * LANE, (foot - low) / (high - low)], color=look.INK,
                  transform=axes.transAxes, linewidth=0.7, linestyle=(0, (2, 3)),
                  zorder=2.4)  # fmt: skip


def _halo() -> list[Any]:
    from matplotlib.patheffects import Normal, Stroke

    return [Stroke(linewidth=2.4, foreground="white"), Normal()]


def _displays(axes: Any, view: SideView, shot: ShotPlan) -> None:
    """What the display reads, on black tabs over the flight."""
    shows = shot.scene.height_above_launch_m[0, view.sample]
    wanted = np.linspace(0.05, 0.95, DISPLAYS) * (view.x[-1] - view.x[0]) + view.x[0]
    for i in np.searchsorted(view.x, wanted).clip(0, len(view.x) - 1).tolist():
        if np.isfinite(shows[i]):
            paper.beside(
                axes, (view.x[i], view.flown_m[i]), (0.0, 11.0), half_metres(float(shows[i])),
                size=SIZE, bold=True, ink="white", ha="center", zorder=9.0,
                bbox={"boxstyle": "square,pad=0.25", "facecolor": look.INK, "linewidth": 0.0},
                arrowprops={"arrowstyle": "wedge,tail_width=0.5", "facecolor": look.INK,
                            "linewidth": 0.0, "shrinkA": 0.0, "shrinkB": 3.0},
            )  # fmt: skip


def _calls(
    axes: Any, view: SideView, shot: ShotPlan, letter: str, size: tuple[float, float]
) -> None:
    """Black flags in the ground, their staffs where the rider is."""
    if view.by_time:
        return
    calls = [c for c in last_calls(shot) if not c.before_start][:MOST_CALLS]
    first, last = float(view.x[0]), max(float(view.x[-1]), float(view.x[0]) + 1.0)
    for call in calls:
        text = call.code(letter)
        at = (call.mark_m - first) / (last - first)
        long = wide(text, SIZE, bold=True) + 6.0
        left = min(at, 1.0 - (long + 5.0) / size[0])
        x = left + np.array([0.0, long, long + 5.0, long, 0.0]) / size[0]
        top, low = 0.29, 0.29 - 11.0 / size[1]
        axes.fill(x, [top, top, 0.5 * (top + low), low, low], color=look.INK, zorder=6.0,
                  transform=axes.transAxes)  # fmt: skip
        axes.plot([at] * 2, [low - 6.0 / size[1], top], color=look.INK, linewidth=1.8, zorder=6.0,
                  transform=axes.transAxes)  # fmt: skip
        paper.write(axes, left + 3.0 / size[0], 0.5 * (top + low), text, size=SIZE, bold=True,
                    ink="white", zorder=7.0, transform=axes.transAxes)  # fmt: skip


def _worst(axes: Any, view: SideView, shot: ShotPlan, letter: str) -> None:
    """A white tag at the worst place of what decides, with its code and numbers."""
    pins = words.pins(shot, letter)
    for found in words.ranked(shot):
        one = found.told
        told = found.check in pins and found.verdict != Verdict.UNKNOWN and one.unit == "m"
        if not told or one.at is None or not one.limit or one.value is None or one.value < 0.0:
            continue
        x = one.at.time_s if view.by_time else one.at.ride_m
        at = float(np.interp(x, view.x, view.flown_m))
        value, limit = (measures.amount(v, "m") for v in (one.value, one.limit))
        said = f"{pins[found.check]} {value.removesuffix(' m')} of {limit}"
        middle = 0.5 * (view.x[0] + view.x[-1])
        paper.beside(
            axes, (x, at), (9.0 if x < middle else -9.0, -18.0), said, size=SIZE, bold=True,
            ha="left" if x < middle else "right", zorder=9.5,
            bbox={"boxstyle": "square,pad=0.25", "facecolor": "white", "edgecolor": look.INK,
                  "linewidth": 1.2},
            arrowprops={"arrowstyle": "-", "color": look.INK, "linewidth": 1.2, "shrinkB": 0.0},
        )  # fmt: skip
        return
