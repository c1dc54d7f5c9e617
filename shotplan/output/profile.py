"""profile.png: every shot from the side, along the ride: ground, what stands there, the aircraft
and its corridor, the ceilings."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from shotplan.kernels.columns import Columns
from shotplan.model.arrays import Array
from shotplan.model.corridor import SHARES
from shotplan.model.judged import Plan, ShotPlan
from shotplan.model.obstacles import Bodies
from shotplan.output import look, words
from shotplan.output.still import DPI, WIDTH_PX, font

NAME = "profile.png"
PANEL_PX = 420
POINTS = 160  # of one shot that are drawn
NEAR_M = 12.0  # what stands this near to the aircraft's way is drawn
ROUNDS = 12  # of climbing to the ceiling measured to the nearest surface


def output(plan: Plan) -> dict[str, bytes]:
    """The file's name and bytes."""
    return {NAME: png(plan)}


def png(plan: Plan) -> bytes:
    """A panel per shot, the same plan the same bytes."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from PIL import Image

    count = len(plan.shots)
    figure = Figure(figsize=(WIDTH_PX / DPI, PANEL_PX * count / DPI), dpi=DPI, facecolor="white")
    for index, shot in enumerate(plan.shots):
        low = 1.0 - (index + 1) / count
        axes = figure.add_axes((0.1, low + 0.21 / count, 0.87, 0.62 / count))
        _panel(axes, shot, words.letter(index))
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    image = Image.fromarray(np.ascontiguousarray(np.asarray(canvas.buffer_rgba())[..., :3]))
    out = io.BytesIO()
    image.quantize(64, dither=Image.Dither.NONE).save(out, format="PNG", optimize=True)
    return out.getvalue()


def _panel(axes: Any, shot: ShotPlan, letter: str) -> None:
    scene = shot.scene
    kept = np.unique(np.linspace(0, scene.height_m.shape[1] - 1, POINTS).astype(int))
    along, z = scene.track.ride.along_m[0, kept], scene.track.xyz_m[0, kept, 2]
    ground = scene.ground_m[0, kept]
    lowest = float(np.nanmin([*ground, *scene.track.ride.xyz_m[0, kept, 2]])) - 3.0
    top = _limits(axes, shot, kept, float(z.max()))
    axes.fill_between(along, lowest, ground, color="#c9bfa8", linewidth=0)
    axes.plot(along, ground, color="#75633f", linewidth=1.0)
    axes.plot(along, scene.track.ride.xyz_m[0, kept, 2], color="#6a4a1c", linewidth=1.8)
    _standing(axes, shot, kept, lowest)
    _bands(axes, shot)
    axes.plot(along, z, color=look.INK, linewidth=4.2)
    _by_word(axes, shot, kept)
    axes.set_xlim(float(along.min()), max(float(along.max()), float(along.min()) + 1.0))
    axes.set_ylim(lowest, top)
    _display(axes, shot, kept)
    _dress(axes, shot, letter)


def _limits(axes: Any, shot: ShotPlan, kept: Array, highest_m: float) -> float:
    """The ceilings, where they are not far above; returns the top of the panel."""
    scene = shot.scene
    rule = scene.rules.height
    along = scene.track.ride.along_m[0, kept]
    straight = scene.ground_m[0, kept] + rule.limit_m
    nearest = ceiling_m(shot, kept)
    room = max(highest_m - float(np.nanmin(scene.track.ride.xyz_m[0, kept, 2])), 15.0)
    top = highest_m + 0.6 * room
    for line, dash, counts in (
        (straight, (1, 2), rule.measured == "straight-down"),
        (nearest, (5, 2), rule.measured == "nearest-surface"),
    ):
        if np.nanmin(line, initial=np.inf) > top + room:
            continue
        top = max(top, float(np.nanmin(line)) + 0.1 * room)
        width = 1.8 if counts else 0.9
        axes.plot(along, line, color="#b3184f", linewidth=width, linestyle=(0, dash))
    return top


def ceiling_m(shot: ShotPlan, kept: Array) -> Array:
    """Elevation at which the aircraft would be as far from the nearest ground as the pack allows,
    straight above its samples `kept`; it climbs by what is left, which never takes it too far."""
    terrain, limit = shot.scene.site.terrain, shot.scene.rules.height.limit_m
    xyz = np.array(shot.scene.track.xyz_m[0, kept])
    for _ in range(ROUNDS):
        away = terrain.distance_m(xyz)
        xyz[:, 2] += np.where(np.isfinite(away), limit - away, np.nan)
    return xyz[:, 2]


def _standing(axes: Any, shot: ShotPlan, kept: Array, lowest_m: float) -> None:
    """What stands near the aircraft's way, where it is abeam."""
    obstacles = shot.scene.site.obstacles
    for bodies, colour in ((obstacles.rest_drawn, "#557255"), (obstacles.wires_drawn, "#0d1013")):
        for at, bottom, high in _tops(shot, bodies, kept):
            low = max(bottom, lowest_m)
            axes.plot([at, at], [low, high], color=colour, linewidth=2.4, alpha=0.75,
                      solid_capstyle="butt")  # fmt: skip


def _tops(shot: ShotPlan, bodies: Bodies, kept: Array) -> list[tuple[float, float, float]]:
    """Along the ride, bottom and top of each piece near the way."""
    way = shot.scene.track.xyz_m[0, kept, :2]
    along = shot.scene.track.ride.along_m[0, kept]
    columns: Columns = bodies.columns
    middles = [(columns.xy_m, columns.radius_m, columns.bottom_m, columns.top_m)]
    prisms = bodies.prisms
    middles.append(
        (prisms.corners_m.mean(axis=1), np.full(len(prisms.top_m), 2.0), prisms.bottom_m,
         prisms.top_m)
    )  # fmt: skip
    found = []
    for xy, radius, bottom, high in middles:
        if not len(xy):
            continue
        for i in range(len(xy)):
            away = np.hypot(*(way - xy[i]).T) - radius[i]
            at = int(np.argmin(away))
            if away[at] < NEAR_M and np.isfinite(high[i]):
                found.append((float(along[at]), float(bottom[i]), float(high[i])))
    return found


def _bands(axes: Any, shot: ShotPlan) -> None:
    if shot.corridor is None:
        return
    middle = shot.corridor.middle_m[:, 2]
    for band in reversed(range(len(SHARES))):
        low, high = shot.corridor.up_m[band]
        shade = look.LOOKS[f"band-{SHARES[band] * 100:.0f}"]
        axes.fill_between(shot.corridor.along_m, middle + low, middle + high, color=shade.line,
                          alpha=0.16 + 0.08 * (2 - band), linewidth=0)  # fmt: skip


def _by_word(axes: Any, shot: ShotPlan, kept: Array) -> None:
    """The flight coloured and marked by its word."""
    along, z = shot.scene.track.ride.along_m[0, kept], shot.scene.track.xyz_m[0, kept, 2]
    for verdict, it in look.VERDICTS.items():
        on = shot.sample_verdict[kept] == int(verdict)
        line = np.where(on, z, np.nan)
        axes.plot(along, line, color=it.line, linewidth=2.6)
        if verdict.word == "no-go":
            axes.plot(along[on][::4], z[on][::4], linestyle="", marker="x", color=look.INK,
                      markersize=4)  # fmt: skip


def _display(axes: Any, shot: ShotPlan, kept: Array) -> None:
    """What the display shows, at a few places."""
    scene = shot.scene
    shows = scene.height_above_launch_m[0]
    for i in kept[np.linspace(4, len(kept) - 5, 5).astype(int)]:
        if np.isfinite(shows[i]):
            axes.annotate(
                f"{shows[i]:.0f}",
                (float(scene.track.ride.along_m[0, i]), float(scene.track.xyz_m[0, i, 2])),
                xytext=(0, 7), textcoords="offset points", ha="center",
                fontproperties=font(bold=True, size=8.0), color=look.INK, parse_math=False,
            )  # fmt: skip


def _dress(axes: Any, shot: ShotPlan, letter: str) -> None:
    small = font(bold=False, size=7.5)
    name = words.plain(shot.scene.shot.name)
    axes.set_title(f"{letter}  {name[:58]}: {shot.verdict.word}", loc="left", parse_math=False,
                   fontproperties=font(bold=True, size=9.0), color=look.INK)  # fmt: skip
    ride = shot.scene.track.ride
    ticks = axes.get_xticks()
    ticks = [t for t in ticks if axes.get_xlim()[0] <= t <= axes.get_xlim()[1]]
    rising = np.concatenate([[True], np.diff(ride.along_m[0]) > 1e-9])
    seconds = np.interp(ticks, ride.along_m[0, rising], ride.t_s[rising])
    axes.set_xticks(ticks, [f"{m:.0f} m\n{s:.0f} s" for m, s in zip(ticks, seconds, strict=True)])
    for tick in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        tick.set_fontproperties(small)
    axes.set_ylabel("elevation, m", fontproperties=small)
    axes.spines[["top", "right"]].set_visible(False)
    axes.annotate(
        "brown line: the ride; filled: the ground under the aircraft; numbers: what your display "
        "shows, m; bars: what stands near its way",
        (0.0, 0.0), xycoords="axes fraction", xytext=(0, -34), textcoords="offset points",
        fontproperties=font(bold=False, size=6.0), color="#555",
    )  # fmt: skip
