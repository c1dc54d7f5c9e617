"""What one key of site.toml says of another."""

from __future__ import annotations

from collections.abc import Iterable

from shotplan.errors import Problems
from shotplan.files.tables import nearest_name
from shotplan.files.words import printable, shown
from shotplan.model.say import COMPASS
from shotplan.site.tables import (
    SEVERAL,
    BesideTable,
    RideTable,
    ShotTable,
    SiteFile,
    SiteTable,
    WeatherTable,
)

FIRST_YEAR, LAST_YEAR = 2000, 2100


def suggestion(got: str, known: Iterable[str]) -> str:
    """The nearest known name as a question, else the names there are."""
    listed = list(known)
    there = f"; there is {', '.join(map(printable, listed))}" if listed else "; there is none"
    return nearest_name(got, listed) or there


def check(found: SiteFile, where: str, problems: Problems) -> None:
    """Everything a schema cannot say on its own, but for what `check_ride`, `check_beside` say."""
    if found.site is not None:
        _check_site(found.site, where, problems)
    if found.weather is not None:
        _check_weather(found.weather, f"{where}: [weather]", problems)
    instead = f"; one person may hold several: {SEVERAL}"
    _no_twins([c.name for c in found.crew], "crew", where, problems, instead)
    _no_twins([s.says.name for s in found.shots], "shot", where, problems)


def check_part(shot: ShotTable, where: str, problems: Problems) -> None:
    """A shot films forward."""
    if shot.to_m is not None and shot.from_m >= shot.to_m:
        problems.add(where, _not_before(shot.from_m, shot.to_m))


def _no_twins(
    names: list[str], key: str, where: str, problems: Problems, instead: str = ""
) -> None:
    for name in sorted({n for n in names if names.count(n) > 1}):
        times = names.count(name)
        problems.add(where, f"[[{key}]]: the name {shown(name)} is given {times} times{instead}")


def _not_before(from_m: float, to_m: float) -> str:
    return f"from_m {from_m:g} is not before to_m {to_m:g}"


def _check_site(site: SiteTable, where: str, problems: Problems) -> None:
    if not FIRST_YEAR <= site.start.year <= LAST_YEAR:
        problems.add(
            where, f"the year of start is {site.start.year}; wanted {FIRST_YEAR} to {LAST_YEAR}"
        )
    if site.terrain and site.terrain_m is not None:
        problems.add(where, "terrain and terrain_m are both given; wanted one of them")
    if site.surroundings and not site.terrain:
        problems.add(where, "surroundings is given without terrain; wanted both, or it as terrain")
    if site.country and not (len(site.country) == 2 and site.country.isalpha()):
        problems.add(
            where, f"country is {shown(site.country)}; wanted two letters like IE (ISO 3166-1)"
        )


def _check_weather(weather: WeatherTable, where: str, problems: Problems) -> None:
    if weather.wind_from is not None:
        if weather.wind_from_deg is not None:
            problems.add(where, "wind_from and wind_from_deg are both given; wanted one of them")
        if weather.wind_from.upper() not in COMPASS:
            problems.add(
                where, f"wind_from is {shown(weather.wind_from)}; wanted one of {' '.join(COMPASS)}"
            )
    wind_m_s, gust_m_s = weather.wind_m_s, weather.gust_m_s
    if wind_m_s is not None and gust_m_s is not None and gust_m_s < wind_m_s:
        problems.add(where, f"gust_m_s {gust_m_s:g} is less than wind_m_s {wind_m_s:g}: swapped?")


def check_ride(ride: RideTable, where: str, problems: Problems) -> None:
    """What one key of `[ride]` says of another."""
    if ride.to_m is not None and ride.from_m >= ride.to_m:
        problems.add(where, _not_before(ride.from_m, ride.to_m))
    if ride.overhead_m is not None and ride.clear_m is None:
        problems.add(where, "overhead_m without clear_m; say how wide the track is open too")


def check_beside(beside: BesideTable, where: str, problems: Problems) -> None:
    """What one key of a `[[beside]]` says of another."""
    a_row = beside.from_m is not None or beside.to_m is not None
    if a_row == (beside.at_m is not None) or (
        a_row and (beside.from_m is None or beside.to_m is None)
    ):
        problems.add(where, "wanted either at_m, or both from_m and to_m")
    elif a_row and (beside.from_m or 0.0) >= (beside.to_m or 0.0):
        problems.add(where, _not_before(beside.from_m or 0.0, beside.to_m or 0.0))
    if (beside.left_m is None) == (beside.right_m is None):
        problems.add(where, "wanted either left_m or right_m")
    if beside.role == "wire" and not a_row:
        problems.add(where, "a wire beside the ride needs from_m and to_m")
    if not a_row and beside.role in ("tree", "building") and beside.radius_m is None:
        problems.add(where, f"radius_m is missing; how far does the {beside.role} reach?")
    if beside.base_m and (a_row or beside.role != "tree"):
        problems.add(where, "base_m is for a single tree; a row is a wall down to the ground")
    if beside.base_m >= beside.height_m:
        problems.add(
            where, f"base_m is {beside.base_m:g}, not below height_m {beside.height_m:g}: swapped?"
        )
