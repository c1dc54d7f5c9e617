"""The day: hour, zone, weather, crew."""

from __future__ import annotations

import math
from datetime import UTC, tzinfo
from zoneinfo import ZoneInfo, available_timezones

from shotplan.errors import Problems
from shotplan.files.tables import nearest_name
from shotplan.files.words import shown
from shotplan.model.day import Day, Person, Weather
from shotplan.model.disturbance import Disturbance
from shotplan.model.say import COMPASS
from shotplan.site.tables import DayTable, DisturbanceTable, SiteFile, SiteTable, WeatherTable


def disturbance_of(table: DisturbanceTable | None) -> Disturbance:
    """How far rides may go from the plan: the defaults with what the folder says laid over."""
    said = {} if table is None else {k: v for k, v in vars(table).items() if v is not None}
    return Disturbance(**said)


def day_of(file: SiteFile, says: SiteTable, where: str, problems: Problems) -> Day:
    """When, in what weather, with whom."""
    between = file.day or DayTable()
    crew = tuple(
        Person(name=c.name, roles=c.roles, stands=c.stands, eye_m=c.eye_m) for c in file.crew
    )
    return Day(
        start=says.start,
        timezone=_zone(says, where, problems),
        weather=weather_of(file.weather or WeatherTable()),
        crew=crew,
        aircraft_between=between.aircraft_between,
        reset_s=between.reset_s,
    )


def _zone(says: SiteTable, where: str, problems: Problems) -> tzinfo:
    if says.timezone:
        try:
            return ZoneInfo(says.timezone)
        except (KeyError, ValueError, OSError):
            near = nearest_name(says.timezone, sorted(available_timezones()))
            problems.add(
                f"{where}: timezone",
                f"got {shown(says.timezone)}; wanted a name like Europe/Dublin{near}",
            )
    return says.start.tzinfo or UTC


def weather_of(says: WeatherTable) -> Weather:
    """The day's weather in SI; a reading taken on the spot is one in the hand, 2 m up."""
    from_deg = wind_from_deg(says)
    in_hand = says.measured_at != "forecast"
    return Weather(
        wind_m_s=says.wind_m_s,
        wind_from_rad=None if from_deg is None else math.radians(from_deg),
        gust_m_s=says.gust_m_s,
        temperature_c=says.temperature_c,
        visibility_m=says.visibility_m,
        measured_at=says.measured_at,
        measured_height_m=says.measured_height_m or (2.0 if in_hand else 10.0),
        roughness=says.roughness,
    )


def wind_from_deg(weather: WeatherTable) -> float | None:
    """Where the wind blows from, degrees clockwise from true north; None not said."""
    if weather.wind_from is not None and weather.wind_from.upper() in COMPASS:
        return 22.5 * COMPASS.index(weather.wind_from.upper())
    return weather.wind_from_deg
