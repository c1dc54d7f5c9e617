"""profile.png: every shot from the side: ground, what stands near the aircraft's way, its height
and where else the disturbed rides take it, the ceilings, what the display shows.

Read at phone width. Names from files are text only: no markup, no formulas.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.judging.corridor import SHARES
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.verdict import Verdict
from shotplan.output import look, paper, words
from shotplan.output.lettering import cut, font, wide
from shotplan.output.look import WIDE
from shotplan.output.strip import key
from shotplan.output.strip import profile_marks as marks
from shotplan.output.strip.side_view import SideView, Standing, side_view

NAME = "profile.png"

PANEL, LEGEND = 236.0, 82.0
LEFT, RIGHT, ABOVE, BELOW = 34.0, 34.0, 46.0, 32.0
HIGH = PANEL - ABOVE - BELOW
ACROSS = WIDE - LEFT - RIGHT
TYPE, SMALL = 10.5, 8.5
FREE_OVER, FREE_UNDER = 0.16, 0.24  # of a panel's height, for displays over and names under all
CLOSE_M = 6.0  # nearer things are darker
LEAST_HIGH_M = 14.0
CEILING, SECOND = "#b3184f", "#3b4148"


def output(plan: Plan) -> dict[str, bytes]:
    """The file's name and bytes."""
    return {NAME: png(plan)}


def png(plan: Plan) -> bytes:
    """A panel per shot and a legend; the same plan gives the same bytes."""
    panels = [_panel(shot, words.letter(index)) for index, shot in enumerate(plan.shots)]
    drawn = [*map(paper.pixels, [*panels, _legend()]), key.pixels()]
    return paper.packed(paper.footed(np.concatenate(drawn), words.made(plan.outing)))


def of_shot(shot: ShotPlan, letter: str) -> bytes:
    """The panel of one shot alone, as a PNG."""
    return paper.png(_panel(shot, letter))


def _panel(shot: ShotPlan, letter: str) -> Any:
    figure = paper.figure(WIDE / 72.0, PANEL / 72.0)
    axes = figure.add_axes(
        (LEFT / WIDE, BELOW / PANEL, ACROSS / WIDE, (PANEL - ABOVE - BELOW) / PANEL)
    )
    view = side_view(shot)
    low, high = limits(view)
    first, last = float(view.x[0]), float(view.x[-1])
    axes.set_xlim(first, max(last, first + 1.0))
    axes.set_ylim(low, high)
    axes.set_facecolor("white")
    _ground(axes, view, low, high)
    for one in reversed(view.standing):
        _thing(axes, view, one, low, high)
    _bands(axes, view, shot)
    _ceilings(axes, view, shot)
    axes.plot(view.x, view.rider_m, color="#6a4a1c", linewidth=1.8)
    _flight(axes, view)
    axes.plot(view.x, view.ground_m + kept(view, shot), color=look.INK, linewidth=1.2,
              linestyle=(0, (4, 3)), zorder=2.6)  # fmt: skip
    marks.draw(axes, view, shot, letter)
    _dress(figure, axes, view, shot, letter)
    return figure


def limits(view: SideView) -> tuple[float, float]:
    """Lowest and highest elevation of a panel: all ground, what stands there as far as it concerns
    the flight, and beneath room for names. Ceilings are drawn where they are within it."""
    ground = np.concatenate([view.ground_m, view.rider_m, view.flown_m])
    flown = float(view.flown_m.max())
    bottom = float(np.nanmin(ground))
    room = max(flown - float(view.rider_m.min()), 10.0)
    tops = [float(np.nanmax(one.top_m)) for one in view.standing]
    top = max([flown, *(min(t, flown + 0.5 * room) for t in tops)])
    top = max(top, bottom + LEAST_HIGH_M)
    free = 1.0 - FREE_OVER - FREE_UNDER
    high = (top - bottom) / free
    return bottom - FREE_UNDER * high, top + FREE_OVER * high


def _ground(axes: Any, view: SideView, low: float, high: float) -> None:
    axes.fill_between(view.x, low, view.ground_m, color="#c9bfa8", linewidth=0)
    axes.plot(view.x, view.ground_m, color="#75633f", linewidth=1.0)
    missing = _wider(np.isnan(view.ground_m))
    axes.fill_between(view.x, low, high, where=missing, facecolor="none", hatch="///",
                      edgecolor=key.HATCH, linewidth=0.0)  # fmt: skip


def _wider(on: Bools) -> Bools:
    """One sample more at both ends of each run: so that its neighbours are joined to it."""
    return np.asarray(on | np.append(on[1:], False) | np.append(False, on[:-1]))


def _thing(axes: Any, view: SideView, one: Standing, low: float, high: float) -> None:
    """What stands beside the way; hatched to the top where its height is not known."""
    style = look.LOOKS[one.role]
    top, bottom = np.minimum(one.top_m, high), np.maximum(one.bottom_m, low)
    there = np.isfinite(one.top_m) | np.isinf(one.top_m)
    known = bool(np.isfinite(one.top_m[there]).all())
    for first, last in stretches(there):
        part = slice(first, last)
        left, right = _ends(view.x, first, last)
        x = np.concatenate([[left], view.x[part], [right]])
        up, down = (np.pad(a[part], 1, mode="edge") for a in (top, bottom))
        axes.fill_between(
            x, down, up, facecolor=style.fill or style.line, edgecolor=style.line,
            alpha=(0.6 if one.away_m < CLOSE_M else 0.3) if known else 0.2, linewidth=0.8,
            hatch=None if known else "xx", step="mid",
        )  # fmt: skip


def _ends(x: Array, first: int, last: int) -> tuple[float, float]:
    """Half a gap before the first and behind the last sample of a run; 1 px wide at least."""
    before = 0.5 * (x[first] + x[max(first - 1, 0)])
    behind = 0.5 * (x[last - 1] + x[min(last, len(x) - 1)])
    least = (x[-1] - x[0]) / ACROSS
    return float(min(before, x[first] - 0.5 * least)), float(max(behind, x[last - 1] + 0.5 * least))


def _bands(axes: Any, view: SideView, shot: ShotPlan) -> None:
    """Where the disturbed rides take it, about the flight that is drawn."""
    if shot.corridor is None:
        return
    along = shot.scene.track.ride.along_m[0, view.sample]
    for band in reversed(range(len(SHARES))):
        shade = look.LOOKS[f"band-{SHARES[band] * 100:.0f}"]
        low, high = (
            view.flown_m + np.interp(along, shot.corridor.along_m, side)
            for side in shot.corridor.up_m[band]
        )
        axes.fill_between(view.x, low, high, color=shade.line, alpha=0.16 + 0.1 * (2 - band),
                          linewidth=0)  # fmt: skip


def _ceilings(axes: Any, view: SideView, shot: ShotPlan) -> None:
    """Those that are within the panel."""
    counts = shot.scene.rules.height.measured
    for line, dash, kind in (
        (view.straight_m, (1, 1.5), "straight-down"),
        (view.nearest_m, (6, 2), "nearest-surface"),
    ):
        axes.plot(view.x, line, color=CEILING, linewidth=2.0 if kind == counts else 1.0,
                  linestyle=(0, dash))  # fmt: skip


def kept(view: SideView, shot: ShotPlan) -> Array:
    """`(m,)` how high over the ground under it the aircraft must stay; NaN not asked."""
    found = shot.asked("ground")
    if found is None:
        return np.full(len(view.x), np.nan)
    asked = found.limits[view.sample]
    return np.where(np.isfinite(asked), asked, np.nan)


def _flight(axes: Any, view: SideView) -> None:
    """The flight by its word, drawn as on the map: even, dashed, dotted, broad with crosses."""
    x, z = view.x, view.flown_m
    axes.plot(x, z, color=look.INK, linewidth=5.4, solid_capstyle="butt")
    for verdict, style in look.VERDICTS.items():
        on = view.code == int(verdict)
        line = np.where(_wider(on), z, np.nan)
        if verdict == Verdict.UNKNOWN:
            axes.plot(x, line, color=look.INK, linewidth=5.4, solid_capstyle="butt")
            axes.plot(x, line, color=style.line, linewidth=3.0, linestyle=(0, (0.01, 2.6)),
                      dash_capstyle="round")  # fmt: skip
        elif verdict == Verdict.CAUTION:
            axes.plot(x, line, color=look.INK, linewidth=5.4, solid_capstyle="butt")
            axes.plot(x, line, color=style.line, linewidth=3.6, linestyle=(0, (2.0, 1.2)))
        else:
            wide_pt = 3.8 if verdict == Verdict.GO else 5.4
            axes.plot(x, line, color=style.line, linewidth=wide_pt, solid_capstyle="butt")
    at = np.linspace(x[0], x[-1], 36)
    no = view.code[np.searchsorted(x, at, side="right").clip(1, len(x)) - 1] == Verdict.NO_GO
    axes.plot(at[no], np.interp(at[no], x, z), "x", color="white", markersize=3.6, mew=1.3)


def _dress(figure: Any, axes: Any, view: SideView, shot: ShotPlan, letter: str) -> None:
    from matplotlib.ticker import MaxNLocator

    small = font(size=SMALL)
    head = paper.bare(figure)
    head.set_xlim(0.0, WIDE)
    head.set_ylim(PANEL, 0.0)
    word = key.chip(head, WIDE - 6.0, 3.0, shot.verdict, size=9.5)
    title = cut(f"{letter}  {words.plain(shot.scene.shot.name)}", word - 12.0, size=12.0, bold=True)
    paper.write(head, 6.0, 11.0, title, size=12.0, bold=True)
    said = told(view, shot, axes.get_ylim())
    size = SMALL * min(1.0, (WIDE - 12.0) / wide(said, SMALL))
    paper.write(head, 6.0, 27.0, said, size=size, ink=SECOND)
    paper.write(head, 6.0, 39.0, "m above the sea", size=7.5, ink=SECOND)
    paper.write(head, WIDE - 6.0, 39.0, "your display, m", size=7.5, align="right", ink=SECOND)
    ticks, named = _ticks(view, shot)
    axes.set_xticks(ticks, named)
    display = axes.twinx()
    launch = shot.scene.stage.launch_m
    display.set_ylim(*(e - launch for e in axes.get_ylim()) if np.isfinite(launch) else (0.0, 1.0))
    for one in (axes, display):
        one.yaxis.set_major_locator(MaxNLocator(nbins=7, integer=True, steps=[1, 2, 5, 10]))
        one.spines["top"].set_visible(False)
        for tick in (*one.get_xticklabels(), *one.get_yticklabels()):
            tick.set_fontproperties(small)
    if not np.isfinite(launch):
        display.set_yticks([])


def _ticks(view: SideView, shot: ShotPlan) -> tuple[list[float], list[str]]:
    """Metres and seconds; of a flight by its own clock seconds come first."""
    ride = shot.scene.track.ride
    first, last = float(view.x[0]), float(view.x[-1])
    step = say.round_step((last - first) / 6.0, also=(25.0,))
    ticks = np.arange(np.ceil(first / step) * step, last + 1e-6, step)
    if view.by_time:
        metres = np.interp(ticks, ride.t_s - ride.t_s[0], ride.along_m[0])
        return ticks.tolist(), [f"{s:.0f} s\n{m:.0f} m" for s, m in zip(ticks, metres, strict=True)]
    when = ride.when_s(ticks) - ride.t_s[0]
    return ticks.tolist(), [f"{m:.0f} m\n{s:.0f} s" for m, s in zip(ticks, when, strict=True)]


def told(view: SideView, shot: ShotPlan, ends_m: tuple[float, float]) -> str:
    """`heights drawn 4.9 times as tall; keep 3.7 m over the ground; room to 120 m: 115 m`."""
    said = []
    across = float(view.x[-1] - view.x[0])
    if not view.by_time and across > 0.0:
        tall = HIGH / (ends_m[1] - ends_m[0]) / (ACROSS / across)
        said.append(f"heights drawn {tall:.1f} times as tall")
    over = kept(view, shot)
    if np.isfinite(over).any():
        low, high = (f"{v:.1f}".removesuffix(".0") for v in (np.nanmin(over), np.nanmax(over)))
        said.append(f"keep {high if low == high else f'{low} to {high}'} m over the ground")
    return "; ".join((*said, ceiling(view, shot)))


def ceiling(view: SideView, shot: ShotPlan) -> str:
    """`room to 120 m: 115 m`, to the ceiling that counts."""
    rule = shot.scene.rules.height
    line = view.straight_m if rule.measured == "straight-down" else view.nearest_m
    room = float((line - view.flown_m).min())
    said = "not known" if np.isnan(room) else f"{room:.0f} m" if room >= 0.0 else "none"
    return f"room to {rule.limit_m:.0f} m: {said}"


def _legend() -> Any:
    """What is drawn, beside the words of the strip's own legend."""
    axes = paper.sheet(WIDE, LEGEND)
    tree, band = look.LOOKS["tree"], look.LOOKS["band-50"]
    said = (
        ("#6a4a1c", "the ride; filled: the ground under the aircraft, hatched where not known"),
        (tree.fill, "what stands beside the aircraft's way within 20 m, and how near"),
        (band.line, "where 50, 95 and 99 of 100 disturbed rides take it; black tab: your display"),
        (look.INK, "dashed: how high over the ground it must stay; red: a ceiling, where so low"),
    )
    for row, (colour, text) in enumerate(said):
        y = 9.0 + 16.0 * row
        axes.plot([6.0, 30.0], [y, y], color=colour, linewidth=5.0, solid_capstyle="butt",
                  alpha=0.75)  # fmt: skip
        paper.write(axes, 36.0, y, text, size=SMALL, va="center")
    last = "Heights to half metres. By seconds: a flight that does not follow the rider."
    paper.write(axes, 6.0, 9.0 + 16.0 * 4, last, size=SMALL, va="center")
    return axes.figure
