"""What is read first: how many shots got which word, day and wind."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from shotplan.judging.judged import ShotPlan
from shotplan.model import say
from shotplan.model.day import Day, Weather
from shotplan.model.verdict import Verdict, worst

LEAST_PART_M = 20.0


def tally(verdicts: Iterable[Verdict]) -> str:
    """`1 no-go, 2 caution, 1 go`, worst first."""
    found = sorted(verdicts, reverse=True)
    return ", ".join(f"{len(list(same))} {v.word}" for v, same in itertools.groupby(found))


def good_part(shot: ShotPlan) -> str:
    """`Good as it is from 230 to 302 m of the ride.`, the same for what is only caution; "" where
    nothing of at least `LEAST_PART_M` is better than the whole."""
    for verdict, said in ((Verdict.GO, "Good as it is"), (Verdict.CAUTION, "Caution only")):
        part = _longest(shot, verdict)
        if verdict < shot.verdict and part.to_m - part.from_m >= LEAST_PART_M:
            return f"{said} from {part.from_m} to {part.to_m} m of the ride."
    return ""


class _Part(NamedTuple):
    from_m: int
    to_m: int
    verdict: Verdict


def _longest(shot: ShotPlan, verdict: Verdict) -> _Part:
    """The longest run of stretches no worse than `verdict`, rounded inward; a hair of rounding
    error is no reason to lose a metre."""
    parts = [_Part(0, 0, verdict)]
    for kept, group in itertools.groupby(shot.stretches, lambda s: s.verdict <= verdict):
        run = list(group)
        low, high = math.ceil(run[0].from_m - 1e-6), math.floor(run[-1].to_m + 1e-6)
        if kept:
            parts.append(_Part(low, high, worst(s.verdict for s in run)))
    return max(parts, key=lambda p: p.to_m - p.from_m)


def moment(at: datetime) -> str:
    """`Sat 20 June 2026, 19:40`."""
    return f"{at:%a} {at.day} {at:%B %Y, %H:%M}"


def begins(day: Day) -> str:
    """When the first shot begins, in the site's own time."""
    return moment(day.start.astimezone(day.timezone))


def wind(weather: Weather) -> str:
    """`wind from W, 5 m/s`, and what of it is not known."""
    if weather.wind_m_s is None:
        return "wind not known"
    if weather.wind_m_s == 0.0:
        return "no wind"
    speed = f"{_short(weather.wind_m_s)} m/s"
    if weather.wind_from_rad is None:
        return f"wind {speed}, from where is not known"
    return f"wind from {say.compass(weather.wind_from_rad)}, {speed}"


def air(weather: Weather) -> str:
    """The wind with gusts, and the temperature."""
    gust = weather.gust_m_s
    said = [wind(weather), "gusts not known" if gust is None else f"gusts {_short(gust)} m/s"]
    if weather.temperature_c is not None:
        said.append(f"{_short(weather.temperature_c)} °C")
    return ", ".join(said)


def air_short(weather: Weather) -> str:
    """`Wind SW 4 m/s, gusts 7`."""
    if weather.wind_m_s is None:
        return "Wind not known"
    side = "" if weather.wind_from_rad is None else f" {say.compass(weather.wind_from_rad)}"
    gust = "not known" if weather.gust_m_s is None else _short(weather.gust_m_s)
    return f"Wind{side} {_short(weather.wind_m_s)} m/s, gusts {gust}"


def from_deg(weather: Weather) -> float | None:
    """Where the wind comes from, clockwise from north; None in a calm or where not known."""
    if not weather.wind_m_s or weather.wind_from_rad is None:
        return None
    return math.degrees(weather.wind_from_rad) % 360.0


class Air(NamedTuple):
    """The wind for a map: in words, where it comes from clockwise from north (None: no barb), how
    fast."""

    says: str
    from_deg: float | None
    speed_m_s: float


def barb(weather: Weather) -> Air:
    """What a map shows of the wind."""
    return Air(wind(weather), from_deg(weather), weather.wind_m_s or 0.0)


def sun(azimuth_rad: float, up_rad: float) -> str:
    """`sun in the WSW, 42° high`."""
    if up_rad <= 0.0:
        return "the sun is down"
    return f"sun in the {say.compass(azimuth_rad)}, {math.degrees(up_rad):.0f}° high"


def _short(value: float) -> str:
    """`5`, `5.5`."""
    return f"{round(value, 1) + 0.0:g}"
