"""What another wind than the forecast's makes of a shot that was planned: the worst word over a
sector of directions, for every mean up to one and every gust up to another.

Only what the wind decides is asked again, of the undisturbed flight: whether it keeps its line,
pace, wind, battery and fall. As long as no airspeed is cut the wind does not move that flight, so
everything else stays what the plan says; where it would be cut it flies another line than was
judged, and the word is no-go. The disturbed rides are not flown again: where gusts push them
harder than in the plan the word is caution, and soon unknown.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import footprints
from shotplan.model.arrays import Array
from shotplan.model.day import Weather
from shotplan.model.disturbance import Disturbance, spread_of
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene import energy, falls, local_wind, timeline, wind_limits
from shotplan.scene.holding import STEP_M, held, region
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
ROOM_M, LONG_S = 2.0, 5.0  # as the fall check has them
LEVEL_M_S = 2.0  # from one wind to the next that battery and fall are asked in
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
    asked = _Asked(scene, said, rides)
    shape = (len(SIDES), len(MEANS_M_S), len(GUSTS_M_S))
    hand = np.full(shape, UNKNOWN, dtype=np.int8)
    if scene.site.launch is not None:
        hand = asked.table("launch")
    return Winds(asked.table(None), hand, asked.push_m_s())


class _Asked:
    """One shot and what is asked of it; what does not hang on where the wind is read only once."""

    def __init__(self, scene: Scene, said: Disturbance, rides: int) -> None:
        self._said, self._rides = said, rides
        weather = replace(scene.day.weather, measured_at="forecast", measured_height_m=10.0)
        self._planned = scene
        self._scene = replace(scene, day=replace(scene.day, weather=weather))
        self._moving = scene.track.velocity_m_s[0, :, :2]
        self._fast = scene.aircraft.max_speed_m_s - SPARE_M_S

    def table(self, place: str | None) -> Codes:
        """By sector: the worst of its middle and edges, and of everything up to an entry. Read at
        `place` in the hand, or (None) as a forecast."""
        means, gusts = WIDER * MEANS_M_S[:, None], WIDER * GUSTS_M_S[None, :]
        gusts = np.maximum(gusts, means)
        readings = [self._reading(place, k) for k in range(HEADINGS)]
        of_heading = np.stack([self._codes(k, readings[k], means, gusts) for k in range(HEADINGS)])
        codes = np.empty((len(SIDES), *gusts.shape), dtype=np.int8)
        for sector in range(len(SIDES)):
            mine = [(2 * sector + k) % HEADINGS for k in (-1, 0, 1)]
            lift = max(readings[k].lift for k in mine)
            strong = lift * means
            codes[sector] = np.maximum.reduce(
                [
                    *of_heading[mine],
                    self._battery(sector, strong, strong + gusts - means),
                    self._fallen(sector, strong + gusts - means),
                ]
            )
        return np.maximum.accumulate(np.maximum.accumulate(codes, axis=1), axis=2)

    def _reading(self, place: str | None, heading: int) -> _Reading:
        """What a reading there says of the open wind from a heading."""
        if place is None:
            return _Reading(1.0, 1.0, local_wind.spread(self._scene.day.weather), lee=False)
        weather = replace(
            self._scene.day.weather, measured_at=place, measured_height_m=wind_limits.HAND_M
        )
        air = local_wind.at_place(self._scene.site, weather, place, _from_rad(heading))
        factor = float(air.factor)
        # Pace, battery and fall take the number as it is read: never less than in the open.
        lift = max(1.0, 1.0 / factor) if factor > 0.0 else 1.0
        return _Reading(factor, lift, local_wind.spread(weather), bool(air.lee))

    def _codes(self, heading: int, reading: _Reading, means: Array, gusts: Array) -> Codes:
        """`(15, 22)` what is closed form in the wind from one heading."""
        line = self._line(heading, reading.lift * means)
        return np.maximum(line, self._borne(heading, reading, means, gusts)).astype(np.int8)

    def _line(self, heading: int, mean_m_s: Array) -> NDArray[np.int_]:
        """Whether it stays on the line that was planned, and can keep up."""
        limits = self._scene.aircraft.max_speed_m_s
        wanted = self._scene.track.setpoint_velocity_m_s[0, :, :2]
        code = np.where(mean_m_s > _most(wanted, heading, limits), CAUTION, GO)
        blow = np.zeros(3) if self._planned.wind_m_s is None else self._planned.wind_m_s
        cut = np.hypot(*(self._moving - blow[:2]).T).max() > self._fast
        if self._rides > 1 or cut:
            most = -1.0 if cut else _most(FASTER * self._moving, heading, self._fast)
            code = np.where(mean_m_s > most, UNKNOWN, code)
        swing = SWINGS_BACK * float(np.hypot(*self._moving.T).max())
        keeps = min(_most(self._moving, heading, self._fast), self._fast - swing)
        return np.where(mean_m_s > keeps, NO_GO, code)

    def _borne(
        self, heading: int, reading: _Reading, means: Array, gusts: Array
    ) -> NDArray[np.int_]:
        """The wind check: rating and airspeed in the gust; updraught and lee."""
        side = self._sides[heading]
        there, bears = side.local.mean / reading.factor, side.bears
        unknown = bool(np.isnan(there).any())
        there = np.where(np.isnan(there), 0.0, there)
        more = reading.spread * (gusts - means)

        def spare(limit: Array) -> Array:
            return np.array(
                [[np.min(limit - mean * there, initial=np.inf)] for mean in means[:, 0]]
            )

        soft = (more > spare(bears.lee_m_s)) | (spare(bears.mean_m_s) < 0.0) | reading.lee
        code = np.where(soft & (means > 0.0), CAUTION, GO)
        code = np.where((means > 0.0) & unknown, UNKNOWN, code)
        return np.where(more > spare(bears.gust_m_s), NO_GO, code)

    @cached_property
    def _sides(self) -> list[wind_limits.Side]:
        return [wind_limits.side_of(self._scene, _from_rad(k), 1) for k in range(HEADINGS)]

    def push_m_s(self) -> Array:
        """Gust over mean that pushes the disturbed rides harder than they were flown, in any
        direction; the worst of a sector."""
        planned = self._push(self._planned.day.weather)
        if self._rides == 1:
            return np.full((len(SIDES), 2), np.inf)
        if abs(float(np.linalg.det(planned))) < 1e-12:
            return np.zeros((len(SIDES), 2))
        shares = np.empty(HEADINGS)
        for heading in range(HEADINGS):
            one = Weather(wind_m_s=1.0, gust_m_s=2.0, wind_from_rad=_from_rad(heading))
            shares[heading] = np.linalg.norm(np.linalg.solve(planned, self._push(one)), 2)
        worst = np.maximum.reduce([np.roll(shares, k)[::2] for k in (-1, 0, 1)])
        return np.asarray(np.array(PUSHED) / worst[:, None])

    def _push(self, weather: Weather) -> Array:
        under = np.zeros(1, dtype=bool)
        return spread_of(self._said, self._scene.aircraft, weather, under).push_m_s2

    def _battery(self, sector: int, means: Array, gusts: Array) -> Codes:
        """Battery and, at the planned hour, whether all takes end in the light."""
        known = self._battery_levels[sector]
        i, j = (_level(v, len(a)) for v, a in ((means, known), (gusts, known[0])))
        return np.asarray(known[i, j])

    @cached_property
    def _battery_levels(self) -> Codes:
        """`(16, i, j)` by mean and gust, of both edges of each sector."""
        count = math.ceil(self._scene.aircraft.max_speed_m_s / LEVEL_M_S) + 1
        edges = np.full((len(SIDES), count, count), NO_GO, dtype=np.int8)
        for edge, i in itertools.product(range(len(SIDES)), range(count - 1)):
            own = self._powered(2 * edge + 1, i, i)
            if own == NO_GO:
                continue
            edges[edge, i] = max(own, CAUTION)  # a gust that holds it where it is
            low, high = i, count - 1
            while high - low > 1:
                middle = (low + high) // 2
                fits = self._powered(2 * edge + 1, i, middle) == GO
                low, high = (middle, high) if fits else (low, middle)
            edges[edge, i, : low + 1] = own
        codes = np.maximum(edges, np.roll(edges, 1, axis=0))
        return np.maximum.accumulate(np.maximum.accumulate(codes, axis=1), axis=2)

    def _powered(self, heading: int, i: int, j: int) -> int:
        scene = self._scene
        mean, gust = (WIDEST * LEVEL_M_S * level for level in (i, j))
        air = energy.air(mean, gust, _from_rad(heading), scene.day.weather.temperature_c)
        flight = energy.flight_of(scene, air)
        if flight is None or math.isnan(flight.usable_wh):
            return UNKNOWN
        if float(flight.need_wh.max()) > flight.usable_wh:
            return NO_GO
        clock = timeline.Clock(scene.day, scene.start)
        clock.shot(0, scene.shot.takes, flight.shot_s, flight)
        light = self._light
        lit = all(timeline.fits(s, light) for s in clock.slots if s.what == "take")
        return GO if lit and float(flight.gusty_wh.max()) <= flight.usable_wh else CAUTION

    @cached_property
    def _light(self) -> timeline.Light:
        scene = self._scene
        return timeline.light_of(scene.day, scene.rules, scene.site.frame)

    def _fallen(self, sector: int, gusts: Array) -> Codes:
        known = self._fall_levels[sector]
        return np.asarray(known[_level(gusts, len(known))])

    @cached_property
    def _fall_levels(self) -> Codes:
        """`(16, j)` by gust: the first that carries it onto somebody is sought by halving; beyond
        what it is rated for nothing is asked."""
        count = math.ceil(self._scene.aircraft.max_wind_m_s / LEVEL_M_S) + 2
        codes = np.zeros((len(SIDES), count), dtype=np.int8)
        codes[:, -1] = UNKNOWN
        landings: dict[int, Array] = {}
        for sector in range(len(SIDES)):
            low, high = 0, count - 1  # calm is the plan's own
            level = high - 1
            while high - low > 1:
                if level not in landings:
                    landings[level] = self._landings(level)
                codes[sector, level] = self._lands(sector, landings[level])
                hit = codes[sector, level] > GO
                low, high = (low, level) if hit else (level, high)
                level = (low + high) // 2
        return np.maximum.accumulate(codes, axis=1)

    def _landings(self, level: int) -> Array:
        """`(n, 17, 6, 2)` in still air, and in a gust from the far edge of each sector."""
        gust = WIDEST * LEVEL_M_S * level
        edges = [gust * falls.toward(_from_rad(2 * k + 1)) for k in range(len(SIDES))]
        at = np.arange(0, len(self._moving), EVERY)
        drop = falls.drop(self._scene, at, [np.zeros(3), *edges])
        landed = np.where(np.isfinite(drop.time_s)[..., None], drop.xyz_m, np.nan)[..., :2]
        # Its cases run over the winds first.
        return np.asarray(landed.reshape(len(at), -1, 1 + len(edges), 2).swapaxes(1, 2))

    def _lands(self, sector: int, landings: Array) -> int:
        """The worst the fall check may say when a gust from somewhere in a sector carries it; go
        where it is known that nobody is hit."""
        scene = self._scene
        points = landings[:, [0, 1 + sector, 1 + (sector - 1) % len(SIDES)]]
        points = points.reshape(len(landings), -1, 2)
        between = 0.5 * EVERY * STEP_S * float(np.hypot(*self._moving.T).max())
        code, rule = GO, scene.rules.people
        for target, less, crew in self._targets:
            room = footprints.hulls_to_m(points, target) - less - between
            lasts_s = float((room < 0.0).sum() + 1) * EVERY * STEP_S
            grave = not crew and rule is not None and rule.passing == "no-go" and lasts_s > LONG_S
            if (room < 0.0).any():
                code = max(code, NO_GO if grave else CAUTION)
        if np.isnan(points).any():
            return max(code, UNKNOWN)
        looked = scene.site.looked_m(points, ("people",)) >= between
        return code if looked.all() else max(code, UNKNOWN)

    @cached_property
    def _targets(self) -> list[tuple[footprints.Region, float, bool]]:
        """Who may be hit, how much nearer than touching is kept, and whether they are crew."""
        scene, found = self._scene, []
        keep = scene.aircraft.half_span_m + ROOM_M
        for area in scene.site.people:
            empty = area.state == "closed" or (
                area.state == "held"
                and held(scene, area, footprints.spread(region(area), STEP_M)).holds
            )
            if not empty:
                found.append((region(area), keep + area.error_m, False))
        for person in scene.day.crew:
            place = scene.stand_of(person)
            if place is not None and "rider" not in person.roles:
                spot = footprints.Region((place.xyz_m[None, :2],), False)
                found.append((spot, keep, True))
        return found


class _Reading(NamedTuple):
    """The mean read over the open one (NaN unknown), what lifts it for checks that take it as it
    is, the spread of the gusts, and whether it is taken in the lee of a drop."""

    factor: float
    lift: float
    spread: float
    lee: bool


def _from_rad(heading: int) -> float:
    return 2.0 * math.pi * heading / HEADINGS


def _level(wind_m_s: Array, count: int) -> NDArray[np.intp]:
    """The level at or above a wind, at most the last."""
    return np.minimum(np.ceil(wind_m_s / LEVEL_M_S - 1e-9), count - 1).astype(np.intp)


def _most(velocity_m_s: Array, heading: int, fast_m_s: float) -> float:
    """The largest wind from a heading in which every `velocity_m_s (n, 2)` takes at most that
    airspeed; -1 where one does not even in calm."""
    east, north = local_wind.toward(_from_rad(heading))
    along = velocity_m_s[:, 0] * east + velocity_m_s[:, 1] * north
    across = velocity_m_s[:, 0] * north - velocity_m_s[:, 1] * east
    room = fast_m_s**2 - across**2
    if (np.hypot(along, across) > fast_m_s).any():
        return -1.0
    return float((along + np.sqrt(room)).min())
