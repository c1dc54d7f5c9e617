"""Draws the cut at the tightest place over the card of a shot."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.judging.judged import ShotPlan
from shotplan.model.arrays import Bools
from shotplan.output import look, measures, paper, words
from shotplan.output.card.section import Section, section
from shotplan.output.lettering import cut, wide

WIDE, PICTURE = 540.0, 190.0
STRIP = 24.0  # under the cut, for words
CUT = PICTURE - STRIP
POINTS = (83, 270)  # rows and columns
AIR, EARTH = "#edf1f1", "#cfc2a2"
SIZE, SMALL = 16.0, 14.5
SIDE = 66.0  # that a height needs beside its line
HALO = 3.0


def draw(axes: Any, shot: ShotPlan, top: float) -> None:
    """The cut, `PICTURE` high from `top`."""
    cut_ = section(shot, POINTS)
    view = _View(axes, cut_, top)
    paper.box(axes, 0.0, top, WIDE, PICTURE, facecolor=AIR, linewidth=0.0, zorder=0.1)
    view.solids(shot)
    view.ground()
    view.craft(shot)
    view.names(shot)
    view.strip(shot)
    axes.plot([0.0, WIDE], [top + PICTURE] * 2, color=look.INK, linewidth=3.0, zorder=7.0)


class _View:
    """From metres of the cut to places on the sheet."""

    def __init__(self, axes: Any, made: Section, top: float) -> None:
        self.axes, self.made, self.top = axes, made, top
        self.scale = WIDE / (len(made.across_m) * float(made.across_m[1] - made.across_m[0]))
        self.left_m = float(made.across_m[0]) - 0.5 / self.scale
        self.high_m = float(made.elevation_m[0]) + 0.5 / self.scale

    def x(self, across_m: Any) -> Any:
        """Of metres right of the aircraft."""
        return (np.asarray(across_m) - self.left_m) * self.scale

    def y(self, elevation_m: Any) -> Any:
        """Of an elevation."""
        return self.top + (self.high_m - np.asarray(elevation_m)) * self.scale

    def _outlined(self, on: Bools, fill: str, **pen: Any) -> None:
        """A patch filled, and its edge."""
        if not on.any():
            return
        x, y = self.x(self.made.across_m), self.y(self.made.elevation_m)
        padded = np.pad(on.astype(float), 1)
        px = np.concatenate([[x[0] - 1.0], x, [x[-1] + 1.0]])
        py = np.concatenate([[y[0] - 1.0], y, [y[-1] + 1.0]])
        box = self.axes.contourf(px, py, padded, levels=[0.5, 2.0], colors=[fill], zorder=1.0)
        line = self.axes.contour(px, py, padded, levels=[0.5], zorder=1.5, **pen)
        frame = self._frame()
        box.set_clip_path(frame)
        line.set_clip_path(frame)

    def _frame(self) -> Any:
        from matplotlib.patches import Rectangle

        return Rectangle((0.0, self.top), WIDE, CUT, transform=self.axes.transData)

    def solids(self, shot: ShotPlan) -> None:
        """What is grown pale and dashed, what is drawn over it."""
        things = shot.scene.site.obstacles.things
        self._outlined(self.made.grown >= 0, "#dfe6da", colors=look.INK, linewidths=1.0,
                       linestyles=[(0, (4, 3))])  # fmt: skip
        for index in np.unique(self.made.drawn[self.made.drawn >= 0]).tolist():
            style = look.LOOKS[things[index].role]
            fill = {"tree": "#9eb096", "wood": "#9eb096"}.get(things[index].role,
                                                             style.fill or look.INK)  # fmt: skip
            self._outlined(self.made.drawn == index, fill, colors=look.INK, linewidths=1.8)

    def ground(self) -> None:
        """Filled to below; hatched where it is not known."""
        x, low = self.x(self.made.across_m), self.top + CUT
        y = np.clip(np.nan_to_num(self.y(self.made.ground_m), nan=low), self.top, low)
        self.axes.fill_between(x, y, low, color=EARTH, linewidth=0.0, zorder=2.0)
        self.axes.plot(
            x,
            np.where((y < low) & (y > self.top), y, np.nan),
            color=look.INK,
            linewidth=2.2,
            zorder=2.2,
        )
        unknown = np.isnan(self.made.ground_m)
        if unknown.any():
            self.axes.fill_between(x, self.top, low, where=unknown, facecolor="none", hatch="///",
                                   edgecolor="#7d7f80", linewidth=0.0, zorder=2.1)  # fmt: skip

    def craft(self, shot: ShotPlan) -> None:
        """Rider, aircraft, where the rides take it, and what is measured."""
        made = self.made
        x, y = float(self.x(0.0)), float(self.y(made.craft_m))
        self._rider()
        if made.strays_m is not None:
            left, right, down, up = made.strays_m
            paper.box(self.axes, float(self.x(left)), y - up * self.scale,
                      (right - left) * self.scale, (up - down) * self.scale,
                      facecolor="#bcd6e4", edgecolor="#2f86b7", linewidth=1.4,
                      linestyle=(0, (3, 2)), zorder=3.0)  # fmt: skip
        self._rooms(shot, x, y)
        self._height(shot, x, y)
        tri = np.array([[-11.0, 7.0], [0.0, -11.0], [11.0, 7.0]]) + np.array([x, y])
        self.axes.fill(*tri.T, facecolor="white", edgecolor=look.INK, linewidth=2.2, zorder=6.0)

    def _rider(self) -> None:
        across, foot = self.made.rider_m
        x, y = float(self.x(across)), float(self.y(foot))
        tall = max(1.7 * self.scale, 12.0)
        self.axes.plot([x, x], [y - 1.0, y - 0.62 * tall], color=look.INK, zorder=5.0,
                       linewidth=max(0.24 * tall, 4.0), solid_capstyle="round")  # fmt: skip
        self.axes.plot([x], [y - 0.86 * tall], "o", color=look.INK, zorder=5.0,
                       markersize=max(0.28 * tall, 5.0), mew=0.0)  # fmt: skip

    def _rooms(self, shot: ShotPlan, x: float, y: float) -> None:
        """Left and right of it; the tight one by the number of its finding."""
        made = self.made
        tight = min((r.room_m for r in made.rooms), default=np.inf)
        for room in made.rooms:
            end = float(self.x(room.edge_m))
            if abs(end - x) > 16.0:
                self._span((x, y), (end, y))
            metres = room.room_m
            near, things = made.nearest, shot.scene.site.obstacles.things
            same = near is not None and things[room.thing].id == near.thing
            if same and near is not None and room.room_m == tight:
                metres = min(metres, near.metres)
            said = measures.amount(metres, "m") if metres < 10.0 else f"{metres:.0f} m"
            middle = 0.5 * (x + end) + (8.0 if end > x else -8.0)
            self._word(middle, y + 15.0, said, align="center")

    def _height(self, shot: ShotPlan, x: float, y: float) -> None:
        """Down to the ground under it, to half metres."""
        height = float(shot.scene.height_m[0, self.made.sample])
        if not np.isfinite(height):
            return
        foot = float(self.y(self.made.craft_m - height))
        low = self.top + CUT
        aside = 34.0 * self.made.legs.rider * (1.0 if self.made.legs.bent else -1.0)
        if not SIDE < x + aside < WIDE - SIDE:
            aside = -aside
        self._span((x + aside, y), (x + aside, min(foot, low - 1.0)), open_end=foot > low)
        said = f"{round(2.0 * height) / 2.0:g} m" if height < 10.0 else f"{height:.0f} m"
        at = 0.5 * (y + min(foot, low)) + 6.0
        self._word(x + aside + (7.0 if aside > 0 else -7.0), at, said,
                   align="left" if aside > 0 else "right")  # fmt: skip

    def _span(
        self, one: tuple[float, float], other: tuple[float, float], *, open_end: bool = False
    ) -> None:
        """A dimension line with bars at its ends."""
        upright = abs(one[0] - other[0]) < 1e-6
        pen = {"color": look.INK, "linewidth": 1.8, "zorder": 4.0}
        self.axes.plot([one[0], other[0]], [one[1], other[1]], **pen)
        bar = np.array([-6.0, 6.0])
        for at in (one, other)[: 1 if open_end else 2]:
            if upright:
                self.axes.plot(at[0] + bar, [at[1]] * 2, **pen)
            else:
                self.axes.plot([at[0]] * 2, at[1] + bar, **pen)

    def _word(self, x: float, y: float, text: str, *, align: str, size: float = SIZE) -> None:
        from matplotlib.patheffects import Normal, Stroke

        effects = [Stroke(linewidth=HALO, foreground="white"), Normal()]
        room = WIDE - 8.0
        paper.write(self.axes, min(max(x, 6.0), room), y, text, size=size, bold=True, align=align,
                    zorder=8.0, path_effects=effects)  # fmt: skip

    def names(self, shot: ShotPlan) -> None:
        """What is cut on each side, by name, at the picture's upper edge, and which side that is:
        of the rider and where the cut bends."""
        made, things = self.made, shot.scene.site.obstacles.things
        for side, word in zip((-1.0, 1.0), made.sides, strict=True):
            room = next((r for r in made.rooms if r.edge_m * side > 0.0), None)
            rider = side == made.legs.rider
            parts = ["rider"] if rider else []
            parts += [words.named(shot.scene.site, things[room.thing].id)] if room else []
            tail = f", {word}" if rider or made.legs.bent else ""
            if not parts:
                continue
            fits = 0.46 * WIDE - wide(tail, SIZE, bold=True)
            name = cut(", ".join(parts), fits, size=SIZE, bold=True) + tail
            self._word(6.0 if side < 0 else WIDE - 6.0, self.top + 15.0, name,
                       align="left" if side < 0 else "right")  # fmt: skip
        if made.legs.bent:
            x = float(self.x(0.0))
            self.axes.plot([x, x], [self.top + 26.0, self.top + CUT], color=look.INK, zorder=2.3,
                           linewidth=1.0, linestyle=(0, (1, 3)))  # fmt: skip

    def strip(self, shot: ShotPlan) -> None:
        """Under the cut: what is nearest there, how far, and where along the ride that is."""
        made, site = self.made, shot.scene.site
        paper.box(self.axes, 0.0, self.top + CUT, WIDE, STRIP, facecolor="white", linewidth=0.0,
                  zorder=6.5)  # fmt: skip
        y = self.top + CUT + 0.5 * STRIP - 1.0
        at = f"ride {shot.scene.track.ride.along_m[0, made.sample]:.0f} m"
        self._word(WIDE - 8.0, y, at, align="right", size=SMALL)
        near = made.nearest
        if near is None:
            return
        far = measures.amount(near.metres, "m") if near.metres < 10.0 else f"{near.metres:.0f} m"
        far = "inside" if near.metres < 0.0 else far
        ids = [thing.id for thing in site.obstacles.things]
        seen = near.thing not in ids or bool((made.grown == ids.index(near.thing)).any())
        tail = f" {far}" + f", {near.side}" * bool(near.side) + ", not shown" * (not seen)
        named = "ground" if near.thing == "ground" else words.named(site, near.thing)
        fits = WIDE - 30.0 - wide(at, SMALL, bold=True) - wide(f"nearest {tail}", SMALL, bold=True)
        told = f"nearest {cut(named, fits, size=SMALL, bold=True)}{tail}"
        self._word(8.0, y, told, align="left", size=SMALL)
