"""What another wind than the forecast's makes of a planned shot: the worst word over a
sector of directions, for every mean up to one and every gust up to another.

Every check that the wind changes is asked again, of the undisturbed flight (`Check.wind` says
how). As long as no airspeed is cut the wind does not move that flight, so everything else stays
what the plan says; where it would be cut it flies another line than was judged, and the word is
no-go. The disturbed rides are not flown again: where gusts push them harder than in the plan the
word is caution, and soon unknown.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.checks import CHECKS
from shotplan.checks.fall import check as fall
from shotplan.checks.return_.alone import holds_m_s
from shotplan.judging.verdicts import Part
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Weather
from shotplan.model.disturbance import Disturbance, spread_of
from shotplan.model.ride import STEP_S
from shotplan.model.say import COMPASS
from shotplan.model.verdict import Verdict
from shotplan.scene import falls, local_wind, wind_limits
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene

Codes = NDArray[np.int8]

SIDES = COMPASS
MEANS_M_S = np.arange(15.0)
GUSTS_M_S = np.arange(22.0)
SECTOR_RAD = math.pi / len(SIDES)  # from the middle of a sector to its edges
HEADINGS = 2 * len(SIDES)  # asked: the middles (even) and the edges (odd) of the sectors
WIDER = 1.0 / math.cos(SECTOR_RAD / 2.0)  # so that two headings cover what blows between them
WIDEST = 1.0 / math.cos(SECTOR_RAD)
SPARE_M_S = 0.1  # of airspeed, so that nothing is cut between two samples either
SWINGS_BACK = 0.2  # of its speed when the rider brakes; 0.135 behind a set point that stops at once
FASTER = 1.15  # a rider two spreads faster than undisturbed
PUSHED = (1.1, 1.25)  # over what the plan's gusts push: caution, unknown; own settings
EVERY = 10  # samples from one that is let fall to the next
LEVEL_M_S = 2.0  # from one wind to the next where edges of sectors are asked
GO, CAUTION, UNKNOWN, NO_GO = (int(v) for v in Verdict)


class Winds(NamedTuple):
    """Verdict codes `(16, 15, 22)` by `SIDES`, `MEANS_M_S` and `GUSTS_M_S`, of any wind up to
    there: `open` of a mean 10 m up over open ground, as a forecast gives it; `hand` of a reading
    2 m up at the launch (all unknown where there is none). `push_m_s (16, 2)`: with more gust over
    the mean than this the word is at least caution, at least unknown (+inf: no rides were
    disturbed)."""

    open: Codes
    hand: Codes
    push_m_s: Array


def winds(scene: Scene, said: Disturbance, rides: int) -> Winds:
    """The table of a shot: `scene` its undisturbed flight, `rides` how many were flown."""
    asked = _Asked(scene, rides)
    hand = np.full((len(SIDES), len(MEANS_M_S), len(GUSTS_M_S)), UNKNOWN, dtype=np.int8)
    if scene.site.launch is not None:
        hand = asked.table("launch")
    return Winds(asked.table(None), hand, _push_m_s(scene, said, rides))


def word(check: Check, scene: Scene) -> int:
    """The worst a check says of an undisturbed flight."""
    found = check.margins(scene)
    codes = [CAUTION if any(r.caution for m in found for r in m.remarks) else GO]
    for m in found:
        hard = np.atleast_2d(m.margin)
        soft = np.broadcast_to(np.inf if m.soft is None else m.soft, hard.shape)
        codes.append(int(Part(hard, soft, m.share, m.family or check.family).codes().max()))
    return max(codes)


class _Asked:
    """One shot and what is asked of it; what does not hang on where the wind is read only once."""

    def __init__(self, scene: Scene, rides: int) -> None:
        self._scene, self._rides = scene, rides
        self._moving = scene.track.velocity_m_s[0, :, :2]
        self._fast = scene.aircraft.max_speed_m_s - SPARE_M_S

    def table(self, place: str | None) -> Codes:
        """By sector: the worst of its middle and edges, and of everything up to an entry. Read at
        `place` in the hand, or (None) as a forecast."""
        means, gusts = WIDER * MEANS_M_S[:, None], WIDER * GUSTS_M_S[None, :]
        gusts = np.maximum(gusts, means)
        lifts, of_heading = np.ones(HEADINGS), list[Codes]()
        sides, lees = self._sides, np.zeros(HEADINGS, dtype=bool)
        if place is not None:
            sides, lifts, lees = self._read_at(place)
        for heading, (side, lee) in enumerate(zip(sides, lees.tolist(), strict=True)):
            kept = self._kept(heading, lifts[heading] * means)
            of_heading.append(np.maximum(kept, _borne(side, lee, means, gusts)))
        codes = []
        for sector in range(len(SIDES)):
            mine = [(2 * sector + k) % HEADINGS for k in (-1, 0, 1)]
            strong = lifts[mine].max() * means
            blown = strong + gusts - means
            gusty, fallen = (
                _at(self._gusty[sector], strong, blown),
                _at(self._fallen[sector], blown),
            )
            codes.append(np.maximum.reduce([*(of_heading[k] for k in mine), gusty, fallen]))
        return _up_to(np.array(codes, dtype=np.int8))

    def _read_at(self, place: str) -> tuple[list[wind_limits.Side], Array, Bools]:
        """The sides by what is read in the hand; what lifts the number for checks that take it as
        it is, which is never less than in the open; whether it is read in the lee of a drop."""
        weather = replace(self._scene.day.weather, measured_at=place)
        spread, froms = local_wind.spread(weather), [side.from_rad for side in self._sides]
        factor, lee = local_wind.at_place(
            self._scene.site, place, wind_limits.HAND_M, froms, weather.roughness
        )
        sides = [
            side._replace(local=side.local._replace(mean=side.local.mean / read, spread=spread))
            for side, read in zip(self._sides, factor, strict=True)
        ]
        with np.errstate(divide="ignore"):
            lifts = np.where(factor > 0.0, np.fmax(1.0, 1.0 / factor), 1.0)
        return sides, lifts, lee

    def _weather(self, heading: int, mean_m_s: float = 0.0, gust_m_s: float = 0.0) -> Weather:
        """A forecast of the planned day, but for its wind."""
        return replace(
            self._scene.day.weather,
            wind_m_s=mean_m_s,
            gust_m_s=max(gust_m_s, mean_m_s),
            wind_from_rad=_from_rad(heading),
            measured_at="forecast",
            measured_height_m=local_wind.OPEN_HEIGHT_M,
        )

    def _word(self, kind: str, weather: Weather) -> int:
        """The worst that the checks of a kind say in another weather."""
        scene = self._scene.in_weather(weather)
        return max(word(check, scene) for check in CHECKS if check.wind == kind)

    def _kept(self, heading: int, mean_m_s: Array) -> Codes:
        """`(15, 1)` whether it stays on the line that was planned (and so keeps up as planned), and
        where it is left alone."""
        code = np.full(mean_m_s.shape, NO_GO, dtype=np.int8)
        swing = SWINGS_BACK * float(np.hypot(*self._moving.T).max())
        keeps = mean_m_s[:, 0] <= min(self._most(1.0, heading), self._fast - swing)
        code[keeps] = GO
        blow = np.zeros(3) if self._scene.wind_m_s is None else self._scene.wind_m_s
        cut = np.hypot(*(self._moving - blow[:2]).T).max() > self._fast
        if self._rides > 1 or cut:
            most = -1.0 if cut else self._most(FASTER, heading)
            code[mean_m_s > most] = np.maximum(code[mean_m_s > most], UNKNOWN)
        return np.maximum(code, np.where(mean_m_s > holds_m_s(self._scene), CAUTION, GO))

    def _most(self, times: float, heading: int) -> float:
        """The largest wind from a heading in which it has the airspeed for so many times its
        speed; -1 where it has not even in calm."""
        moving = times * self._moving
        if (np.hypot(*moving.T) > self._fast).any():
            return -1.0
        return float(wind_limits.bearable_m_s(moving, _from_rad(heading), self._fast).min())

    @cached_property
    def _sides(self) -> list[wind_limits.Side]:
        """By heading, of a forecast."""
        known = {side.from_rad: side for side in wind_limits.eight(self._scene)}
        froms = [_from_rad(heading) for heading in range(HEADINGS)]
        sides = [known.get(k) or wind_limits.side_of(self._scene, k, 1) for k in froms]
        spread = local_wind.spread(self._weather(0))
        return [
            side._replace(local=side.local._replace(mean=side.local.air.factor, spread=spread))
            for side in sides
        ]

    @cached_property
    def _gusty(self) -> Codes:
        """`(16, i, j)` what hangs on mean and gust, by their levels, of both edges of a sector;
        beyond what it can fly a gust holds it where it is."""
        count = math.ceil(self._scene.aircraft.max_speed_m_s / LEVEL_M_S)

        def asked(edge: int, i: int, j: int) -> int:
            mean, gust = (WIDEST * LEVEL_M_S * level for level in (i, j))
            return self._word("gust", self._weather(2 * edge + 1, mean, gust))

        edges = np.stack([_climbing(partial(asked, k), count, count) for k in range(len(SIDES))])
        codes = np.maximum(edges, np.roll(edges, 1, axis=0))
        codes = np.pad(codes, ((0, 0), (0, 0), (0, 1)), constant_values=CAUTION)
        return _up_to(np.pad(codes, ((0, 0), (0, 1), (0, 0)), constant_values=NO_GO))

    @cached_property
    def _fallen(self) -> Codes:
        """`(16, j)` the fall check by levels of the gust; beyond what it is rated for nothing is
        asked."""
        count = math.ceil(self._scene.aircraft.max_wind_m_s / LEVEL_M_S) + 1
        drops: dict[int, falls.Drop] = {}

        def asked(sector: int, level: int) -> int:
            if level == 0:
                return GO  # calm is the plan's own
            if level not in drops:
                drops[level] = self._drop(level)
            mine = drops[level].of_winds([0, 1 + sector, 1 + (sector - 1) % len(SIDES)])
            return self._hit(mine)

        codes = [_climbing(partial(asked, k), count) for k in range(len(SIDES))]
        return np.pad(codes, ((0, 0), (0, 1)), constant_values=UNKNOWN)

    def _drop(self, level: int) -> falls.Drop:
        """In still air, and in a gust from the far edge of each sector."""
        edges = [
            WIDEST * LEVEL_M_S * level * falls.toward(_from_rad(2 * k + 1))
            for k in range(len(SIDES))
        ]
        at = np.arange(0, len(self._moving), EVERY)
        return falls.drop(self._scene, at, [np.zeros(3), *edges])

    def _hit(self, drop: falls.Drop) -> int:
        """The worst the fall check may say of landings and of all that lie between them."""
        found = fall.between(self._scene, drop, EVERY * STEP_S)
        hard = fall.hard_m(self._scene, found)
        asked = Part(hard[None], found.room_m[None], 0.0, fall.CHECK.family)
        return int(asked.codes().max())


def _borne(side: wind_limits.Side, lee: bool, means: Array, gusts: Array) -> Codes:
    """`(15, 22)` the wind check, by the limits it comes to; `lee` of the reading too."""
    unknown = bool(np.isnan(side.local.mean).any())
    side = side._replace(local=side.local._replace(mean=np.nan_to_num(side.local.mean)))
    codes = np.zeros(gusts.shape, dtype=np.int8)
    for row, gust, mean in zip(codes, gusts, means[:, 0].tolist(), strict=True):
        row[lee | (gust > wind_limits.largest_gust(side, mean))] = CAUTION
        row[:] = UNKNOWN if unknown and mean > 0.0 else row
        row[gust > wind_limits.hard_gust(side, mean)] = NO_GO
    return codes


def _push_m_s(scene: Scene, said: Disturbance, rides: int) -> Array:
    """`(16, 2)` gust over mean that pushes the disturbed rides harder than they were flown, in any
    direction; the worst of a sector. It stands in for flying them again in every wind."""

    def push(weather: Weather) -> Array:
        open_sky = np.zeros(1, dtype=bool)
        return spread_of(said, scene.aircraft, weather, open_sky, open_sky).push_m_s2

    planned = push(scene.day.weather)
    if rides == 1:
        return np.full((len(SIDES), 2), np.inf)
    if abs(float(np.linalg.det(planned))) < 1e-12:
        return np.zeros((len(SIDES), 2))
    shares = np.empty(HEADINGS)
    for heading in range(HEADINGS):
        one = Weather(wind_m_s=1.0, gust_m_s=2.0, wind_from_rad=_from_rad(heading))
        shares[heading] = np.linalg.norm(np.linalg.solve(planned, push(one)), 2)
    worst = np.maximum.reduce([np.roll(shares, k)[::2] for k in (-1, 0, 1)])
    return np.asarray(np.array(PUSHED) / worst[:, None])


def _from_rad(heading: int) -> float:
    return 2.0 * math.pi * heading / HEADINGS


def _climbing(ask: Callable[..., int], *shape: int) -> Codes:
    """Codes that never fall along any axis, from the last entry on: what those asked leave open is
    asked from its middle on."""
    low, high = np.full(shape, GO, dtype=np.int8), np.full(shape, NO_GO, dtype=np.int8)
    at = tuple(count - 1 for count in shape)
    while True:
        code = ask(*at)
        beyond, before = tuple(slice(i, None) for i in at), tuple(slice(i + 1) for i in at)
        low[beyond], high[before] = np.maximum(low[beyond], code), np.minimum(high[before], code)
        waiting = np.argwhere(low < high)
        if not len(waiting):
            return low
        at = tuple(waiting[len(waiting) // 2].tolist())


def _up_to(codes: Codes) -> Codes:
    """The worst of everything up to an entry of the last two axes."""
    return np.maximum.accumulate(np.maximum.accumulate(codes, axis=-2), axis=-1)


def _at(known: Codes, *winds_m_s: Array) -> Codes:
    """Codes by level at or above each wind, at most the last."""
    levels = [
        np.minimum(np.ceil(wind / LEVEL_M_S - 1e-9), count - 1).astype(np.intp)
        for wind, count in zip(winds_m_s, known.shape, strict=True)
    ]
    return np.asarray(known[tuple(levels)])
