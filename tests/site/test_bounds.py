"""Every number a folder may hold has bounds: beyond them a message, within them a plan."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any, NamedTuple, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from shotplan import make
from shotplan.aircraft import schema as aircraft_tables
from shotplan.cli import app
from shotplan.errors import BadInput, Problems
from shotplan.files.tables import table
from shotplan.files.words import arms, core
from shotplan.outing import read
from shotplan.rules import own_tables
from shotplan.rules import schema as rules_tables
from shotplan.site import tables as site_tables
from shotplan.site.roles import ROLES
from shotplan.styles import STYLES
from tests.worlds import SIDE_TRACK, box, feature, line, place, point, polygon, tree, write_site

BEYOND = (1e25, -1e25, math.nan, math.inf, -math.inf, 10**400)
LENIENT = {"from_m", "to_m"}  # where 0 means the beginning: next to it is as good


class Key(NamedTuple):
    """A number of a table: `low`, `high` what its schema says (an exclusive end as it is)."""

    schema: type[Any]
    name: str
    low: float
    high: float
    whole: bool


def _schemas() -> list[type[Any]]:
    modules = (site_tables, aircraft_tables, rules_tables, own_tables)
    rooms = {m.__name__ for m in modules}
    named = [c for m in modules for c in vars(m).values() if isinstance(c, type)]
    parsed = (site_tables.SiteFile, site_tables.ShotWanted)  # made of tables, no tables themselves
    given = [c for c in named if is_dataclass(c) and c.__module__ in rooms]
    given = [c for c in given if c not in parsed]
    return [*dict.fromkeys([*given, *(s for s, _ in ROLES.values()), *STYLES])]


def _numbers(hint: Any) -> Iterator[Any]:
    """The numbers among what a key may hold, inside a list too."""
    for arm in arms(hint):
        if core(arm) in (float, int):
            yield arm
        elif get_origin(core(arm)) in (tuple, list, frozenset):
            yield from _numbers(get_args(core(arm))[0])


def _keys() -> list[Key]:
    found = []
    for schema in _schemas():
        for name, hint in get_type_hints(schema, include_extras=True).items():
            for arm in _numbers(hint):
                said = [c for n in get_args(arm)[1:] for c in getattr(n, "metadata", ())]
                ends = {k: getattr(c, k) for c in said for k in ("ge", "gt", "le", "lt")
                        if hasattr(c, k)}  # fmt: skip
                low = ends.get("ge", ends.get("gt", -math.inf))
                high = ends.get("le", ends.get("lt", math.inf))
                found.append(Key(schema, name, low, high, core(arm) is int))
    return list(dict.fromkeys(found))


KEYS = _keys()


def refused(key: Key, value: object) -> bool:
    problems = Problems()
    table(key.schema, {key.name: value}, "f", problems)
    return any(p.where.startswith(f"f: {key.name}") for p in problems.found)


def test_the_walk_finds_them_all() -> None:
    names = {key.name for key in KEYS}
    assert len(KEYS) > 120
    assert {"reset_s", "takes", "rides", "seed", "stand_off_m", "fps", "limit_m", "sag_m"} <= names


@pytest.mark.parametrize("key", KEYS, ids=lambda k: f"{k.schema.__name__}.{k.name}")
def test_every_number_has_bounds_on_both_sides(key: Key) -> None:
    assert math.isfinite(key.low)
    assert math.isfinite(key.high)
    for value in BEYOND:
        assert refused(key, value), value
    assert not refused(key, int(key.high) if key.whole else key.high)
    step = 1 if key.whole else 1e-6 * max(abs(key.high), 1.0)
    assert refused(key, key.high + step)
    assert refused(key, key.low - (1 if key.whole else 1e-6))
    if key.low > 0.0 and not key.whole:
        assert refused(key, 1e-30)
        assert not refused(key, key.low)


@pytest.mark.parametrize("name", ["gust_sigmas", "sight_s", "gust_s", "receiver_s"])
def test_next_to_nothing_is_no_spread_and_nothing_is(name: str) -> None:
    (key,) = (k for k in KEYS if k.name == name)
    assert refused(key, 1e-30)
    assert not refused(key, 0.0)


# --- through the door -----------------------------------------------------------------------

FEATURES = [
    tree("oak", east_m=40.0, north_m=0.0),
    place("rock", east_m=20.0, north_m=20.0, height_m=1.0),
    feature("wood", "wood", polygon(box(80, -50, 120, 50)), height_m=9.0),
    feature("hut", "building", polygon(box(60, 60, 66, 66)), height_m=4.0),
    feature("post", "pole", point(50.0, -20.0), height_m=4.0),
    feature("wire", "wire", line([(70.0, -60.0), (70.0, 60.0)]), height_m=8.0),
    feature("no", "keep-out", polygon(box(-90, 60, -70, 80)), floor_m=0.0, ceiling_m=90.0),
    feature("nest", "wildlife", point(-200.0, 0.0), stand_off_m=50.0),
    feature("pond", "water", polygon(box(-90, -60, -70, -40)), level_m=84.0),
]
TABLES = {
    "": site_tables.SiteTable, "survey": site_tables.SurveyTable,
    "weather": site_tables.WeatherTable, "ride": site_tables.RideTable,
    "day": site_tables.DayTable, "disturbance": site_tables.DisturbanceTable,
    "aircraft": aircraft_tables.AircraftTable,
}  # fmt: skip


def _everywhere(folder: Path, value: float) -> tuple[Path, int]:
    """A site with `value` for every number it may say; how many those are."""
    count = 0
    site: dict[str, Any] = {}
    for name, schema in TABLES.items():
        own = {k.name: value for k in KEYS if k.schema is schema}
        site.update(own if not name else {name: own})
        count += len(own)
    shots = []
    for style in STYLES:
        own = {k.name: value for k in KEYS if k.schema is style}
        shots.append({"name": style.name, "style": style.name, **own})
        count += len(own)
    features = []
    for one in FEATURES:
        schema = ROLES[one["properties"]["role"]][0]
        own = {k.name: value for k in KEYS if k.schema is schema}
        features.append({**one, "properties": {**one["properties"], **own}})
        count += len(own)
    return write_site(folder, site={**site, "shot": shots}, features=features), count


@pytest.mark.parametrize("value", [1e25, -1e25, math.nan, math.inf])
def test_all_of_them_are_said_in_one_go_and_nothing_is_planned(
    tmp_path: Path, value: float
) -> None:
    folder, count = _everywhere(tmp_path / "s", value)
    drawn = json.loads((folder / "ground.geojson").read_text())
    if not math.isfinite(value):  # JSON has no such number: the file is refused as a whole
        for one in drawn["features"]:
            one["properties"] = {
                k: v for k, v in one["properties"].items() if not isinstance(v, float)
            }
        (folder / "ground.geojson").write_text(json.dumps(drawn))
        count = sum(k.schema in {*TABLES.values(), *STYLES} for k in KEYS)
    ran = CliRunner().invoke(app, ["plan", str(folder), "--only", "none"])
    assert ran.exit_code == 2
    assert ran.stderr.count("wanted ") >= count
    assert not (folder / "out").exists()


OPEN = [
    k for k in KEYS
    if k.schema in {*TABLES.values(), site_tables.ShotTable} and k.name not in ("rides", "format")
]  # fmt: skip
KIND = {schema: name for name, schema in TABLES.items()}


@settings(max_examples=5, deadline=None, derandomize=True, database=None)
@given(pair=st.lists(st.tuples(st.sampled_from(OPEN), st.booleans()), min_size=2, max_size=2))
def test_any_two_at_their_ends_are_a_plan_or_a_message(
    tmp_path_factory: pytest.TempPathFactory, pair: list[tuple[Key, bool]]
) -> None:
    site: dict[str, Any] = {"terrain_m": 84.0, "shot": [{**SIDE_TRACK, "to_m": 30.0}]}
    for key, highest in pair:
        end = key.high if highest else key.low
        value = int(end) if key.whole else float(end)
        if key.schema is site_tables.ShotTable:
            site["shot"][0][key.name] = value
        elif KIND[key.schema]:
            site.setdefault(KIND[key.schema], {})[key.name] = value
        else:
            site[key.name] = value
    folder = write_site(tmp_path_factory.mktemp("pair"), site=site, features=FEATURES)
    with suppress(BadInput):
        assert len(list(make(read(folder), rides=2))) == 1
