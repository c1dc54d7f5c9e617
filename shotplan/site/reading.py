"""site.toml into its tables, every problem in one go."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shotplan.errors import Problems
from shotplan.files.tables import item_where, known_keys, table
from shotplan.files.words import shown
from shotplan.site.slips import check
from shotplan.site.tables import (
    BesideTable,
    CrewTable,
    DayTable,
    DisturbanceTable,
    RideTable,
    ShotTable,
    ShotWanted,
    SiteFile,
    SiteTable,
    SurveyTable,
    WeatherTable,
)

TABLES = ("survey", "weather", "aircraft", "ride", "day", "disturbance")
LISTS = ("beside", "crew", "shot")


def site_file(raw: Mapping[str, Any], where: str, problems: Problems) -> SiteFile:
    """Every table of site.toml, checked; all problems go to the collector."""
    given = {key: _mapping(raw, key, where, problems) for key in TABLES}
    lists = {key: _mappings(raw, key, where, problems) for key in LISTS}
    for key in ("ride", "aircraft"):
        if key not in raw:
            problems.add(where, f"no [{key}] table; wanted one")
    scalars = {k: v for k, v in raw.items() if k not in TABLES and k not in LISTS}
    sites = table(SiteTable, scalars, where, problems)
    weather = table(WeatherTable, given["weather"], f"{where}: [weather]", problems)
    ride = table(RideTable, given["ride"], f"{where}: [ride]", problems) if "ride" in raw else None
    crew = [
        table(CrewTable, one, item_where(f"{where}: [[crew]]", k, one), problems)
        for k, one in enumerate(lists["crew"])
    ]
    beside = [
        (k, table(BesideTable, one, f"{where}: [[beside]] {k}", problems))
        for k, one in enumerate(lists["beside"], start=1)
    ]
    found = SiteFile(
        site=sites,
        survey=table(SurveyTable, given["survey"], f"{where}: [survey]", problems),
        weather=weather,
        ride=ride,
        day=table(DayTable, given["day"], f"{where}: [day]", problems),
        disturbance=table(
            DisturbanceTable, given["disturbance"], f"{where}: [disturbance]", problems
        ),
        aircraft=given["aircraft"],
        beside=tuple((k, b) for k, b in beside if b is not None),
        crew=tuple(c for c in crew if c is not None),
        shots=_shots(lists["shot"], where, problems),
    )
    check(found, where, problems)
    return found


def _mapping(raw: Mapping[str, Any], key: str, where: str, problems: Problems) -> dict[str, Any]:
    value = raw.get(key, {})
    if isinstance(value, Mapping):
        return dict(value)
    problems.add(where, f"{key} is {shown(value)}; wanted a table: write [{key}]")
    return {}


def _mappings(
    raw: Mapping[str, Any], key: str, where: str, problems: Problems
) -> list[dict[str, Any]]:
    value = raw.get(key, [])
    if isinstance(value, list) and all(isinstance(v, Mapping) for v in value):
        return [dict(v) for v in value]
    problems.add(where, f"{key} is not a list of tables; write [[{key}]] above each of them")
    return []


def _shots(raw: list[dict[str, Any]], where: str, problems: Problems) -> tuple[ShotWanted, ...]:
    own = known_keys(ShotTable)
    shots = []
    for index, one in enumerate(raw):
        at = item_where(f"{where}: [[shot]]", index, one)
        says = table(ShotTable, {k: v for k, v in one.items() if k in own}, at, problems)
        if says is not None:
            rest = {k: v for k, v in one.items() if k not in own}
            shots.append(ShotWanted(says=says, style_keys=rest, where=at))
    return tuple(shots)
