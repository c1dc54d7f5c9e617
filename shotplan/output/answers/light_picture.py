"""The light of days as one picture: no name from a file is written in it, shots go by letter.

Read from left to right as the clock runs. Every shade differs in brightness, so that it reads on
a grey printout; glare and clear hours are lines, told apart by their pattern.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from shotplan.kernels.light import light
from shotplan.model import say
from shotplan.output import look, paper
from shotplan.output.answers.light import FEW_DAYS, glare_spans
from shotplan.output.lettering import font
from shotplan.output.words import letter
from shotplan.scene.lightday import LightDay, ShotLight, Span

WIDTH_IN = 7.6
NIGHT, TWILIGHT, DAY = "#2b3040", "#8a8fa3", "#fbf8f0"
SIDE_FILLS = ("#5b6788", "#8f99b3", "#bbb9b4", "#e2cf9b", "#fff3c9")  # as `light.SIDES`
GOLD = "#b38a2e"
ROW_IN = 0.42


def png(days: Sequence[LightDay], planned: datetime | None = None) -> bytes:
    """A PNG of the days with a line at the hour `planned`, on the site's clock; the same days give
    the same bytes."""
    return paper.png(_few(days, planned) if len(days) <= FEW_DAYS else _many(days, planned))


def _few(days: Sequence[LightDay], planned: datetime | None) -> Any:
    """A panel a day: the sun's height, sun on the ride, a strip for each shot."""
    panel_in = 1.95 + ROW_IN * (1 + max(len(day.shots) for day in days))
    whole_in = panel_in * len(days) + 0.75
    figure = paper.figure(WIDTH_IN, whole_in)
    hours = _hours(days)
    for index, day in enumerate(days):
        top_in = whole_in - index * panel_in - 0.42
        curve_in = 1.05
        axes = _axes(figure, whole_in, top_in - curve_in, curve_in, hours)
        date = f"{day.on:%a} {day.on.day} {day.on:%B %Y}"
        axes.set_title(date, loc="left", fontproperties=font(bold=True, size=10.0), color=look.INK)
        _sun(axes, day)
        rows_in = ROW_IN * (1 + len(day.shots))
        below = _axes(figure, whole_in, top_in - curve_in - 0.08 - rows_in, rows_in, hours)
        _rows(below, day)
        _clock(below, hours)
        _planned(axes, below, day, planned)
    _legend(figure, whole_in)
    return figure


def _planned(axes: Any, below: Any, day: LightDay, planned: datetime | None) -> None:
    """A line at the planned hour; it is named so on its own date."""
    if planned is None:
        return
    hour = _at(planned)
    for part in (axes, below):
        _line(part, hour)
    called = f"planned {say.clock(planned)}" if planned.date() == day.on else say.clock(planned)
    paper.beside(axes, (hour, axes.get_ylim()[1]), (0.0, 3.0), called, size=8.5, bold=True,
                 ha="center")  # fmt: skip


def _line(axes: Any, hour: float) -> None:
    axes.axvline(hour, color="white", linewidth=3.6, zorder=3.0)
    axes.axvline(hour, color=look.INK, linewidth=1.8, zorder=3.1)


def _at(planned: datetime) -> float:
    """Hours of the clock."""
    return planned.hour + planned.minute / 60.0


def _many(days: Sequence[LightDay], planned: datetime | None) -> Any:
    """A row a day: the sky behind, a line for the clear hours of each shot."""
    shots = max(len(day.shots) for day in days)
    row_in = min(max(0.1 * (shots + 1), 0.16), 18.0 / len(days))
    legend_in, rows_in = 0.5, row_in * len(days)
    whole_in = rows_in + legend_in + 0.55
    figure = paper.figure(WIDTH_IN, whole_in)
    hours = _hours(days)
    axes = _axes(figure, whole_in, legend_in + 0.3, rows_in, hours)
    for index, day in enumerate(days):
        _sky(axes, day, index, index + 1)
        for k, shot in enumerate(day.shots):
            y = index + (k + 1) / (shots + 1)
            for span in shot.windows:
                axes.plot(*_xy(day, span, y), color=look.INK, linewidth=1.6, solid_capstyle="butt")
            if index == 0:
                _write(axes, hours[1] + 0.08, y, letter(k), size=7.0, align="left")
    axes.set_ylim(len(days), 0)
    every = max(1, len(days) // 30)
    told = [f"{d.on:%a} {d.on.isoformat()}" for d in days[::every]]
    axes.set_yticks([i + 0.5 for i in range(0, len(days), every)], told)
    for label in axes.get_yticklabels():
        label.set_fontproperties(font(size=7.0))
    _clock(axes, hours)
    if planned is not None:
        _line(axes, _at(planned))
        paper.beside(axes, (_at(planned), 0.0), (0.0, 3.0), f"planned {say.clock(planned)}",
                     size=8.5, bold=True, ha="center")  # fmt: skip
    _legend(figure, whole_in, many=True)
    return figure


def _axes(
    figure: Any, whole_in: float, bottom_in: float, high_in: float, hours: tuple[float, float]
) -> Any:
    left, right = 1.25, 0.25
    axes = figure.add_axes(
        (left / WIDTH_IN, bottom_in / whole_in, 1 - (left + right) / WIDTH_IN, high_in / whole_in)
    )
    axes.set_xlim(*hours)
    axes.set_xticks([])
    axes.tick_params(length=0, colors=look.INK)
    for side in axes.spines.values():
        side.set_color(look.INK)
        side.set_linewidth(0.8)
    return axes


def _hours(days: Sequence[LightDay]) -> tuple[float, float]:
    """The hours shown: from an hour before the first to an hour after the last light."""
    low = [_hour(d, d.sun.dawn) for d in days if d.sun.dawn is not None]
    high = [_hour(d, d.sun.dusk) for d in days if d.sun.dusk is not None]
    if len(low) < len(days) or len(high) < len(days):
        return 0.0, 24.0
    return max(0.0, np.floor(min(low) - 0.5)), min(24.0, np.ceil(max(high) + 0.5))


def _hour(day: LightDay, at: datetime) -> float:
    """Hours on the day's clock; negative the evening before, beyond 24 after midnight."""
    clock = at.hour + at.minute / 60.0 + at.second / 3600.0
    return clock + 24.0 * (at.date() - day.on) / timedelta(days=1)


def _xy(day: LightDay, span: Span, y: float) -> tuple[list[float], list[float]]:
    return [_hour(day, at) for at in span], [y, y]


def _sky(axes: Any, day: LightDay, low: float, high: float) -> None:
    """Night, twilight, day and the golden hours behind what is drawn."""
    _band(axes, 0.0, 24.0, low, high, NIGHT)
    sun = day.sun
    for span, fill in (((sun.dawn, sun.dusk), TWILIGHT), ((sun.sunrise, sun.sunset), DAY)):
        first, last = _whole_day(day, span)
        if last > first:
            _band(axes, first, last, low, high, fill)
    for span in day.golden:
        _band(axes, _hour(day, span[0]), _hour(day, span[1]), low, high, "none", "////")


def _whole_day(day: LightDay, span: tuple[datetime | None, datetime | None]) -> tuple[float, float]:
    """Hours of a span; where it has no ends the sun is above, or below it, all day."""
    if span[0] is None and span[1] is None:
        above = span == (day.sun.dawn, day.sun.dusk) and float(day.elevation_rad.max()) > -0.1
        return (0.0, 24.0) if above or float(day.elevation_rad.min()) > 0.0 else (0.0, 0.0)
    first = 0.0 if span[0] is None else _hour(day, span[0])
    return first, 24.0 if span[1] is None else _hour(day, span[1])


def _band(
    axes: Any, first: float, last: float, low: float, high: float, fill: str, hatch: str = ""
) -> None:
    paper.box(axes, first, low, last - first, high - low, facecolor=fill, hatch=hatch or None,
              edgecolor=GOLD if hatch else "none", linewidth=0.0, zorder=0.5)  # fmt: skip


def _sun(axes: Any, day: LightDay) -> None:
    """The sun's height over the sky, with its rise, top and set written in."""
    degrees = np.degrees(day.elevation_rad)
    top = max(float(degrees.max()), 10.0)
    _sky(axes, day, -12.0, top * 1.25)
    hours = [_hour(day, at) for at in day.moments]
    axes.plot(hours, degrees, color="white", linewidth=3.2)
    axes.plot(hours, degrees, color=look.INK, linewidth=1.6)
    axes.axhline(0.0, color=look.INK, linewidth=0.8)
    axes.set_ylim(-12.0, top * 1.25)
    tens = float(np.floor(top / 10.0) * 10.0)
    axes.set_yticks([0.0, tens], ["horizon", f"{tens:.0f}°"], fontproperties=font(size=8.0))
    for at in (day.sun.sunrise, day.sun.sunset):
        if at is not None:
            _write(axes, _hour(day, at), 0.18 * top, say.clock(at), size=8.0, boxed=True)
    peak = int(degrees.argmax())
    _write(axes, hours[peak], degrees[peak] - 0.16 * top, f"{degrees[peak]:.0f}°", size=8.0)


def _rows(axes: Any, day: LightDay) -> None:
    """Sun on the ride, then each shot: its side of the light, clear hours, glare."""
    count = 1 + len(day.shots)
    axes.set_ylim(count, 0)
    _sky(axes, day, 0.0, count)
    told = ["sun on the ride", *(letter(k) for k in range(len(day.shots)))]
    axes.set_yticks([k + 0.5 for k in range(count)], told)
    for k, label in enumerate(axes.get_yticklabels()):
        label.set_fontproperties(font(bold=k > 0, size=9.0 if k else 8.0))
    for span in _lit(day):
        _band(axes, *_ends(day, span), 0.0, 1.0, TWILIGHT)
    for span in day.sunny:
        _band(axes, *_ends(day, span), 0.0, 1.0, "#fff3c9")
    for k, shot in enumerate(day.shots):
        _shot(axes, day, shot, k + 1.0)
        axes.axhline(k + 1.0, color=look.INK, linewidth=0.8)


def _lit(day: LightDay) -> tuple[Span, ...]:
    """While the sun is over the level horizon."""
    return say.spans(day.moments, day.elevation_rad > 0.0)


def _ends(day: LightDay, span: Span) -> tuple[float, float]:
    """Hours of a run of moments, drawn out half a step to each side."""
    half = (day.moments[1] - day.moments[0]) / timedelta(hours=2)
    return _hour(day, span[0]) - half, _hour(day, span[1]) + half


def _shot(axes: Any, day: LightDay, shot: ShotLight, top: float) -> None:
    for span in _lit(day):
        _band(axes, *_ends(day, span), top, top + 1.0, TWILIGHT)
    for part in shot.mostly:
        index = light.SIDES.index(part.side)
        first, last = _ends(day, part.span)
        _band(axes, first, last, top, top + 1.0, SIDE_FILLS[index])
        called = part.side.replace("three-quarter", "¾")
        if last - first > 0.23 * len(called):
            ink = "white" if index == 0 else look.INK
            _write(axes, 0.5 * (first + last), top + 0.48, called, size=7.5, ink=ink)
    for span in shot.windows:
        x, y = _xy(day, span, top + 0.88)
        axes.plot(x, y, color="white", linewidth=4.4, solid_capstyle="butt")
        axes.plot(x, y, color=look.INK, linewidth=2.8, solid_capstyle="butt")
    for seconds in shot.glare_s.values():
        for span in glare_spans(day.moments, seconds):
            x = list(_ends(day, span))
            axes.plot(x, [top + 0.12] * 2, color="white", linewidth=4.4, solid_capstyle="butt")
            axes.plot(x, [top + 0.12] * 2, color="#b3184f", linewidth=3.0, linestyle=(0, (1, 0.7)))


def _clock(axes: Any, hours: tuple[float, float]) -> None:
    step = 1 if hours[1] - hours[0] <= 12 else 2
    ticks = [h for h in range(int(hours[0]), int(hours[1]) + 1) if h % step == 0]
    axes.set_xticks(ticks, [f"{h % 24:02d}" for h in ticks])
    axes.tick_params(axis="x", length=3, colors=look.INK)
    axes.grid(axis="x", color=look.INK, alpha=0.18, linewidth=0.6)
    for label in axes.get_xticklabels():
        label.set_fontproperties(font(size=8.0))


def _write(
    axes: Any, x: float, y: float, text: str, *, size: float, ink: str = look.INK,
    align: str = "center", boxed: bool = False,
) -> None:  # fmt: skip
    box = {"boxstyle": "round,pad=0.15", "facecolor": DAY, "linewidth": 0.0, "alpha": 0.85}
    paper.write(axes, x, y, text, size=size, ink=ink, align=align, va="center",
                bbox=box if boxed else None, clip_on=align == "center")  # fmt: skip


def _legend(figure: Any, whole_in: float, *, many: bool = False) -> None:
    """What the fills and the lines mean."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    edge: dict[str, Any] = {"edgecolor": look.INK, "linewidth": 0.6}
    sky = [
        Patch(facecolor=NIGHT, label="night", **edge),
        Patch(
            facecolor=TWILIGHT, label="twilight" + ", or no sun on the ride" * (not many), **edge
        ),
        Patch(facecolor=DAY, label="day", **edge),
        Patch(facecolor=DAY, hatch="////", edgecolor=GOLD, label="golden hour (convention)"),
        Line2D([], [], color=look.INK, linewidth=2.8, label="clear hours of a shot"),
    ]
    sides = [
        Patch(facecolor=fill, label=f"{side} light", **edge)
        for side, fill in zip(light.SIDES, SIDE_FILLS, strict=True)
    ]
    glare = Line2D(
        [], [], color="#b3184f", linewidth=3.0, linestyle=(0, (1, 0.7)),
        label=f"a watcher looks within {light.GLARE_DEG:.0f}° of the sun",
    )  # fmt: skip
    handles = sky if many else [*sky, glare, *sides]
    paper.legend(figure, handles, (0.02, 0.1 / whole_in), columns=3, size=7.5)
