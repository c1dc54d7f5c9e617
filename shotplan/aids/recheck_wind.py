"""What another wind than the forecast's makes of a shot that was planned: the worst word over a
sector of directions, for every mean up to one and every gust up to another.

Every check that the wind changes is asked again, of the undisturbed flight (`Check.wind` says
how). As long as no airspeed is cut the wind does not move that flight, so everything else stays
what the plan says; where it would be cut it flies another line than was judged, and the word is
no-go. The disturbed rides are not flown again: where gusts push them harder than in the plan the
word is caution, and soon unknown.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.checks import CHECKS, fall
from shotplan.judging.judge import sample_verdicts
from shotplan.model.arrays import Array
from shotplan.model.day import Weather
from shotplan.model.disturbance import Disturbance, spread_of
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene import falls, local_wind, wind_limits
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene

Codes = NDArray[np.int8]

SIDES = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW",
    "NNW",
)  # fmt: skip
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
    codes = [
        sample_verdicts(m.family or check.family, m.margin, np.inf if m.soft is None else m.soft)
        for m in found
    ]
    wary = any(remark.caution for m in found for remark in m.remarks)
    return max(CAUTION if wary else GO, *(int(code.max()) for code in codes))


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
        readings = [self._reading(place, k) for k in range(HEADINGS)]
        of_heading = np.stack(
            [
                np.maximum(
                    self._kept(k, reading.lift * means), self._borne(k, reading, means, gusts)
                )
                for k, reading in enumerate(readings)
            ]
        )
        codes = np.empty((len(SIDES), *gusts.shape), dtype=np.int8)
        for sector in range(len(SIDES)):
            mine = [(2 * sector + k) % HEADINGS for k in (-1, 0, 1)]
            strong = max(readings[k].lift for k in mine) * means
            blown = strong + gusts - means
            codes[sector] = np.maximum.reduce(
                [
                    *of_heading[mine],
                    _at(self._gusty[sector], strong, blown),
                    _at(self._fallen[sector], blown),
                ]
            )
        return _up_to(codes)

    def _reading(self, place: str | None, heading: int) -> _Reading:
        """What a reading there says of the open wind from a heading."""
        weather = self._weather(heading)
        if place is None:
            return _Reading(1.0, 1.0, local_wind.spread(weather), lee=False)
        weather = replace(weather, measured_at=place, measured_height_m=wind_limits.HAND_M)
        air = local_wind.at_place(self._scene.site, weather, place, _from_rad(heading))
        factor = float(air.factor)
        # All but the wind check take the number as it is read: never less than in the open.
        lift = max(1.0, 1.0 / factor) if factor > 0.0 else 1.0
        return _Reading(factor, lift, local_wind.spread(weather), bool(air.lee))

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

    def _kept(self, heading: int, mean_m_s: Array) -> NDArray[np.int_]:
        """`(15, 1)` whether it can keep up; and whether it stays on the line that was planned."""
        code = _climbing(
            lambda i: self._word("mean", self._weather(heading, float(mean_m_s[i, 0]))),
            len(mean_m_s),
        )[:, None]
        blow = np.zeros(3) if self._scene.wind_m_s is None else self._scene.wind_m_s
        cut = np.hypot(*(self._moving - blow[:2]).T).max() > self._fast
        if self._rides > 1 or cut:
            most = -1.0 if cut else self._most(FASTER, heading)
            code = np.where(mean_m_s > most, np.maximum(code, UNKNOWN), code)
        swing = SWINGS_BACK * float(np.hypot(*self._moving.T).max())
        keeps = min(self._most(1.0, heading), self._fast - swing)
        return np.where(mean_m_s > keeps, NO_GO, code)

    def _most(self, times: float, heading: int) -> float:
        """The largest wind from a heading in which it has the airspeed for so many times its
        speed; -1 where it has not even in calm."""
        moving = times * self._moving
        if (np.hypot(*moving.T) > self._fast).any():
            return -1.0
        return float(wind_limits.bearable_m_s(moving, _from_rad(heading), self._fast).min())

    def _borne(self, heading: int, reading: _Reading, means: Array, gusts: Array) -> Codes:
        """`(15, 22)` the wind check, by the limits it comes to; the lee of the reading too."""
        local = self._sides[heading].local
        there = local.mean / reading.factor
        unknown = bool(np.isnan(there).any())
        local = local._replace(mean=np.nan_to_num(there), spread=reading.spread)
        side = self._sides[heading]._replace(local=local)
        codes = np.zeros(gusts.shape, dtype=np.int8)
        for i, mean in enumerate(means[:, 0].tolist()):
            soft = reading.lee or gusts[i] > wind_limits.largest_gust(side, mean)
            if mean > 0.0:
                codes[i] = UNKNOWN if unknown else np.where(soft, CAUTION, GO)
            codes[i, gusts[i] > wind_limits.hard_gust(side, mean)] = NO_GO
        return codes

    @cached_property
    def _sides(self) -> list[wind_limits.Side]:
        return [
            wind_limits.side_of(
                self._scene.in_weather(self._weather(heading)), _from_rad(heading), 1
            )
            for heading in range(HEADINGS)
        ]

    @cached_property
    def _gusty(self) -> Codes:
        """`(16, i, j)` what hangs on mean and gust, by their levels, of both edges of a sector."""
        count = math.ceil(self._scene.aircraft.max_speed_m_s / LEVEL_M_S) + 1
        edges = np.full((len(SIDES), count, count), NO_GO, dtype=np.int8)
        for edge, i in itertools.product(range(len(SIDES)), range(count - 1)):

            def asked(j: int, edge: int = edge, i: int = i) -> int:
                mean, gust = (WIDEST * LEVEL_M_S * level for level in (i, i + j))
                return self._word("gust", self._weather(2 * edge + 1, mean, gust))

            edges[edge, i, i:] = _climbing(asked, count - i)
            edges[edge, i, :i] = edges[edge, i, i]
            edges[edge, i, -1] = max(edges[edge, i, -1], CAUTION)  # and whatever is more
        return _up_to(np.maximum(edges, np.roll(edges, 1, axis=0)))

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

        codes = [_climbing(lambda j, k=k: asked(k, j), count) for k in range(len(SIDES))]
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
        between = 0.5 * EVERY * STEP_S * float(np.hypot(*self._moving.T).max())
        found = fall.landed(self._scene, drop)
        rooms = found.rooms_m - between
        looked = self._scene.site.looked_m(drop.xyz_m[..., :2], ("people",)) >= between
        found = found._replace(
            rooms_m=rooms,
            hit_s=[((room < 0.0).sum() + 1) * EVERY * STEP_S for room in rooms],
            unlooked=~looked.all(axis=1),
        )
        hard, family = fall.hard_m(self._scene, found), fall.CHECK.family
        return int(sample_verdicts(family, hard, found.room_m).max())


class _Reading(NamedTuple):
    """The mean read over the open one (NaN unknown), what lifts it for checks that take it as it
    is, the spread of the gusts, and whether it is taken in the lee of a drop."""

    factor: float
    lift: float
    spread: float
    lee: bool


def _push_m_s(scene: Scene, said: Disturbance, rides: int) -> Array:
    """`(16, 2)` gust over mean that pushes the disturbed rides harder than they were flown, in any
    direction; the worst of a sector. It stands in for flying them again in every wind."""

    def push(weather: Weather) -> Array:
        return spread_of(said, scene.aircraft, weather, np.zeros(1, dtype=bool)).push_m_s2

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


def _climbing(ask: Callable[[int], int], count: int) -> Codes:
    """Codes that never fall, of 0 to `count` - 1: between two that are alike none is asked."""
    codes = np.full(count, -1, dtype=np.int8)
    codes[[0, -1]] = ask(0), ask(count - 1)
    waiting = [(0, count - 1)]
    while waiting:
        low, high = waiting.pop()
        if codes[low] >= codes[high]:
            codes[low : high + 1] = codes[low]
        elif high - low > 1:
            middle = (low + high) // 2
            codes[middle] = ask(middle)
            waiting += [(low, middle), (middle, high)]
    return codes


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
