"""The hours of a forecast in which the aircraft takes the wind, beside the light of a day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from shotplan.files.forecast import Forecast, Hour
from shotplan.model import say
from shotplan.output.answers.light import FEW_DAYS, spans
from shotplan.output.words import letter
from shotplan.scene.lightday import LightDay, Span

LONGEST = timedelta(hours=3)  # for which one line of a table speaks
NOTE = (
    "wind as forecast, 10 m above open ground: an hour without a gust is not counted as calm; "
    "at the track `shotplan plan` says, with that hour under [weather]"
)


def calm(forecast: Forecast, most_m_s: float) -> tuple[Span, ...]:
    """Spans whose gusts stay within `most_m_s`; an hour speaks until the next, three at most. One
    without a gust is unknown, so it is not among them."""
    found: list[Span] = []
    for hour, until in _until(forecast):
        if hour.gust_m_s is None or max(hour.gust_m_s, hour.wind_m_s or 0.0) > most_m_s:
            continue
        if found and found[-1][1] == hour.at:
            found[-1] = (found[-1][0], until)
        else:
            found.append((hour.at, until))
    return tuple(found)


def both(one: Sequence[Span], other: Sequence[Span]) -> tuple[Span, ...]:
    """What two lists of spans have in common."""
    pairs = ((max(a, c), min(b, d)) for a, b in one for c, d in other)
    return tuple(sorted((low, high) for low, high in pairs if low < high))


def rows(
    days: Sequence[LightDay], forecast: Forecast, most_m_s: float
) -> tuple[tuple[str, str], ...]:
    """Label and text, for each day: its strongest wind, and for each shot the hours that are both
    clear and calm."""
    quiet = calm(forecast, most_m_s)
    said: list[tuple[str, str]] = []
    for day in days:
        hours = _of_day(day, forecast)
        label = "wind" if len(days) == 1 else f"wind {day.on.isoformat()}"
        said.append((label, _strongest(hours, day.moments[0])))
        if len(days) > FEW_DAYS or not hours:
            continue
        for index, shot in enumerate(day.shots):
            zoned = _zoned(both(shot.windows, quiet), day.moments[0])
            what = f"clear, and gusts within {say.speed(most_m_s)}"
            said.append((f"{letter(index)} clear and calm", f"{spans(zoned)}: {what}"))
    return tuple(said)


def data(days: Sequence[LightDay], forecast: Forecast, most_m_s: float) -> list[dict[str, Any]]:
    """The same for machines, one for each day."""
    quiet = calm(forecast, most_m_s)
    return [
        {
            "hours": [{**h._asdict(), "at": h.at.isoformat()} for h in _of_day(day, forecast)],
            "max_wind_m_s": most_m_s,
            "clear_and_calm": {
                shot.name: [
                    [at.isoformat(timespec="minutes") for at in span]
                    for span in _zoned(both(shot.windows, quiet), day.moments[0])
                ]
                for shot in day.shots
            },
        }
        for day in days
    ]


def _until(forecast: Forecast) -> list[tuple[Hour, datetime]]:
    starts = [hour.at for hour in forecast.hours]
    last = starts[-1] - starts[-2] if len(starts) > 1 else timedelta(hours=1)
    ends = [*starts[1:], starts[-1] + last]
    return [(h, min(e, h.at + LONGEST)) for h, e in zip(forecast.hours, ends, strict=True)]


def _of_day(day: LightDay, forecast: Forecast) -> list[Hour]:
    return [h for h in forecast.hours if day.moments[0] <= h.at < day.moments[-1]]


def _strongest(hours: Sequence[Hour], zone_of: datetime) -> str:
    """The strongest of a day's hours, and how many say no gust."""
    known = [(g, h) for h in hours if (g := max(h.gust_m_s or 0.0, h.wind_m_s or 0.0)) > 0.0]
    if not known:
        return "the forecast says nothing of this day: unknown"
    most, hour = max(known, key=lambda pair: pair[0])
    without = sum(h.gust_m_s is None for h in hours)
    more = f"; {without} of {len(hours)} hours say no gust: unknown" if without else ""
    at = say.clock(hour.at.astimezone(zone_of.tzinfo))
    return f"at most {say.speed(most)}, at {at}{more}"


def _zoned(found: Sequence[Span], zone_of: datetime) -> tuple[Span, ...]:
    zone = zone_of.tzinfo
    return tuple((a.astimezone(zone), b.astimezone(zone)) for a, b in found)
