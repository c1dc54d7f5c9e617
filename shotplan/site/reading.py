"""site.toml into its tables, every problem in one go."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, TypeVar

from shotplan.errors import Problems
from shotplan.files.tables import item_where, known_keys, table
from shotplan.files.words import shown
from shotplan.site.slips import check, check_beside, check_part, check_ride
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
# What stands in for a key that could not be read, so that the rest is still looked at. Nothing is
# ever planned with it: the key's own problem stops that.
INSTEAD: dict[type[Any], dict[str, object]] = {
    SiteTable: {
        "format": 1,
        "name": "?",
        "rules": "eu-open-a1",
        "start": datetime(2000, 1, 1, tzinfo=UTC),
    },
    CrewTable: {"name": "?", "role": "rider"},
    ShotTable: {"name": "?", "style": "?"},
    WeatherTable: {},
}


def site_file(raw: Mapping[str, Any], where: str, problems: Problems) -> SiteFile:
    """Every table of site.toml, checked; all problems go to the collector."""
    given = {key: _mapping(raw, key, where, problems) for key in TABLES}
    lists = {key: _mappings(raw, key, where, problems) for key in LISTS}
    if "ride" not in raw:
        problems.add(where, "no [ride] table; wanted one")
    scalars = {k: v for k, v in raw.items() if k not in TABLES and k not in LISTS}
    ride = _sound(RideTable, given["ride"], f"{where}: [ride]", problems) if "ride" in raw else None
    crew = [
        _as_told(CrewTable, one, item_where(f"{where}: [[crew]]", k, one), problems, ("name",))
        for k, one in enumerate(lists["crew"])
    ]
    beside = [
        (k, _sound(BesideTable, one, f"{where}: [[beside]] {k}", problems))
        for k, one in enumerate(lists["beside"], start=1)
    ]
    found = SiteFile(
        site=_as_told(SiteTable, scalars, where, problems, beside=TABLES + LISTS),
        survey=table(SurveyTable, given["survey"], f"{where}: [survey]", problems),
        weather=_as_told(WeatherTable, given["weather"], f"{where}: [weather]", problems),
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


T = TypeVar("T", RideTable, BesideTable)


def _sound(schema: type[T], raw: Mapping[str, Any], where: str, problems: Problems) -> T | None:
    """A table that others build on: None where it has a slip, so that it is said once."""
    before = len(problems)
    made = table(schema, raw, where, problems)
    if isinstance(made, RideTable):
        check_ride(made, where, problems)
    elif isinstance(made, BesideTable):
        check_beside(made, where, problems)
    return made if len(problems) == before else None


R = TypeVar("R", SiteTable, CrewTable, ShotTable, WeatherTable)


def _as_told(
    schema: type[R],
    raw: Mapping[str, Any],
    where: str,
    problems: Problems,
    needs: Iterable[str] = (),
    beside: Iterable[str] = (),
) -> R | None:
    """A table others look up: after a problem what could be read of it, the rest as in `INSTEAD`;
    None where one of the keys it `needs` could not."""
    made = table(schema, raw, where, problems, beside)
    if made is not None:
        return made
    sound: dict[str, Any] = {}
    for key, value in raw.items():
        tried = {**sound, key: value}
        if table(schema, {**INSTEAD[schema], **tried}, where, Problems()) is not None:
            sound = tried
    if any(sound.get(key) is None for key in needs):
        return None
    return table(schema, {**INSTEAD[schema], **sound}, where, Problems())


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
    problems.add(
        where, f"{key} is not a list of tables; write [[{key}]], with two brackets, above each"
    )
    return []


def _shots(raw: list[dict[str, Any]], where: str, problems: Problems) -> tuple[ShotWanted, ...]:
    found = [
        shot_wanted(one, item_where(f"{where}: [[shot]]", index, one), problems)
        for index, one in enumerate(raw)
    ]
    return tuple(shot for shot in found if shot is not None)


def shot_wanted(raw: Mapping[str, Any], where: str, problems: Problems) -> ShotWanted | None:
    """One `[[shot]]`: its own keys checked, its style's as they are; None without name or style."""
    own = known_keys(ShotTable)
    told = {k: v for k, v in raw.items() if k in own}
    says = _as_told(ShotTable, told, where, problems, ("name", "style"))
    if says is None:
        return None
    check_part(says, where, problems)
    rest = {k: v for k, v in raw.items() if k not in own}
    return ShotWanted(says=says, style_keys=rest, where=where)
