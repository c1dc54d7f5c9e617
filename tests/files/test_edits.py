"""Texts that are changed in places: what was not changed keeps every byte."""

from __future__ import annotations

import json
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from shotplan.errors import Problems
from shotplan.files import geojson_edit, geojson_kept, toml_edit
from shotplan.files.spelled import in_own_units, lay

SITE = """\
# the hill behind the house
format = 1
name = 'Home hill'   # as we call it

[ride]
path = "ride.gpx"  # Sunday
error_m = 2.5

[[crew]]
name = "Ada"
role = "rider"

# --- shots, best first
[[shot]]
name = "one"          # the easy one
style = "lead"
distance_ft = 40      # feet, as the aircraft shows it
height_m = 5.0
stands = { Ada = "launch" }

# the tight one
[[shot]]
name = "two"
style = "lead"
height_m = 7.0
distance_m = 9

# what the forecast said
[weather]
wind_m_s = 3
"""
GROUND = """\
{ "type": "FeatureCollection", "note": "by hand {[",
  "features": [
  {"type": "Feature", "id": "oak", "bbox": [1, 2, 3, 4],
   "properties": {"role": "tree", "height_ft": 40.0, "radius_m": 2, "colour": null},
   "geometry": {"type": "Point", "coordinates": [14.0, 46.0, 512.0]}},
  {"type": "Feature", "properties": {"id": "way", "role": "people"},
   "geometry": {"type": "LineString", "coordinates": [[14, 46], [14.001, 46]]}}
 ], "sources": [{"source": "osm"}] }
"""


def toml(**changes: Any) -> str:
    problems = Problems()
    lists = {k: v for k, v in changes.items() if k != "ride"}
    tables = {k: v for k, v in changes.items() if k == "ride"}
    made = toml_edit.edited(SITE, lists, tables, "site.toml", problems)
    assert not problems.found
    assert made is not None
    return made


def shots() -> list[dict[str, Any]]:
    return toml_edit.plain(SITE, "shot")


def differing(old: str, new: str) -> list[tuple[str, str]]:
    """Lines that are not the same, of texts with as many lines."""
    pairs = list(zip(old.splitlines(), new.splitlines(), strict=True))
    return [(a, b) for a, b in pairs if a != b]


def test_a_table_in_feet_is_read_in_metres_and_written_in_feet() -> None:
    table: dict[str, Any] = {"distance_ft": 40, "wind_kn": 10.0, "name": "x"}
    assert in_own_units(table)["distance_m"] == pytest.approx(12.192)
    assert in_own_units(table)["wind_m_s"] == pytest.approx(5.1444, abs=1e-4)
    lay(table, {**in_own_units(table), "distance_m": 15.24})
    assert table == {"distance_ft": 50.0, "wind_kn": 10.0, "name": "x"}


def test_one_number_changes_one_line() -> None:
    one, two = shots()
    made = toml(shot=[one, {**two, "distance_m": 12.5}])
    assert differing(SITE, made) == [("distance_m = 9", "distance_m = 12.5")]
    made = toml(shot=[{**one, "distance_m": 15.24}, two])
    (pair,) = differing(SITE, made)
    assert pair[1].startswith("distance_ft = 50.0")
    assert pair[1].endswith("# feet, as the aircraft shows it")


def test_nothing_changed_is_the_same_text() -> None:
    assert toml(shot=shots(), crew=toml_edit.plain(SITE, "crew")) == SITE


def test_a_new_shot_stands_last_and_a_deleted_one_leaves_the_others_comments() -> None:
    one, two = shots()
    new = {"name": "three", "style": "top-down", "height_m": 20.0}
    made = toml(shot=[one, two, new])
    assert tomllib.loads(made)["shot"][2] == new
    assert all(line in made.splitlines() for line in SITE.splitlines() if "#" in line)
    made = toml(shot=[one])
    assert [s["name"] for s in tomllib.loads(made)["shot"]] == ["one"]
    assert "# what the forecast said" in made
    made = toml(shot=[two])
    assert [s["name"] for s in tomllib.loads(made)["shot"]] == ["two"]
    assert "# the tight one" in made


def test_the_ride_is_changed_and_keeps_its_comment() -> None:
    made = toml(ride={"path": "ride-01", "error_m": 0.5, "speed_m_s": 5.0})
    assert tomllib.loads(made)["ride"] == {"path": "ride-01", "error_m": 0.5, "speed_m_s": 5.0}
    assert 'path = "ride-01"  # Sunday\nerror_m = 0.5\nspeed_m_s = 5.0\n\n[[crew]]' in made
    one, two = shots()
    made = toml(shot=[{**one, "takes": 2}, two])
    assert "takes = 2\n\n# the tight one\n[[shot]]" in made


def test_a_list_that_cannot_be_edited_is_refused() -> None:
    problems = Problems()
    text = 'shot = [{name = "a", style = "lead"}]\n'
    wanted = [{"name": "a", "style": "orbit", "_was": 0}]
    assert toml_edit.edited(text, {"shot": wanted}, {}, "site.toml", problems) is None
    assert "[[shot]]" in str(problems.found[0])


@given(some.dictionaries(some.text(min_size=1, max_size=6), some.text(max_size=8), max_size=3))
def test_whatever_is_written_is_what_was_meant(extra: dict[str, str]) -> None:
    one, two = shots()
    two = {**two, "name": "".join(extra.values()) or "x"}
    problems = Problems()
    made = toml_edit.edited(SITE, {"shot": [one, two]}, {}, "site.toml", problems)
    assert made is None or tomllib.loads(made)["shot"][1]["name"] == two["name"]
    assert (made is None) == bool(problems.found)


def test_features_that_did_not_change_keep_every_byte() -> None:
    oak, way = geojson_edit.plain(GROUND)
    assert oak["properties"]["height_m"] == pytest.approx(12.192)
    moved = {**oak, "properties": {**oak["properties"], "radius_m": 3}}
    made = geojson_edit.edited(GROUND, {"oak": moved}, [])
    begin = GROUND.index('  {"type": "Feature", "properties"')
    assert made.endswith(GROUND[begin:])
    assert made.startswith(GROUND[: GROUND.index('{"type": "Feature", "id": "oak"')])
    raw = json.loads(made)["features"][0]
    assert raw["properties"] == {"role": "tree", "height_ft": 40.0, "radius_m": 3, "colour": None}
    assert raw["bbox"] == [1, 2, 3, 4]
    assert raw["geometry"]["coordinates"] == [14.0, 46.0, 512.0]
    assert way["id"] == "way"
    assert "id" not in way["properties"]


def test_a_moved_one_loses_its_third_number_and_a_height_stays_in_feet() -> None:
    oak = geojson_edit.plain(GROUND)[0]
    moved = {
        **oak,
        "geometry": {"type": "Point", "coordinates": [14.1, 46.0]},
        "properties": {**oak["properties"], "height_m": 3.048},
    }
    raw = json.loads(geojson_edit.edited(GROUND, {"oak": moved}, []))["features"][0]
    assert raw["geometry"]["coordinates"] == [14.1, 46.0]
    assert raw["properties"]["height_ft"] == pytest.approx(10.0)
    assert "height_m" not in raw["properties"]


def test_new_and_removed() -> None:
    new = {"properties": {"role": "pole", "height_m": 8.0},
           "geometry": {"type": "Point", "coordinates": [14.0, 46.0]}}  # fmt: skip
    made = json.loads(geojson_edit.edited(GROUND, {"pole-01": new}, ["oak"]))
    assert [geojson_kept.id_of(f) for f in made["features"]] == ["way", "pole-01"]
    assert made["sources"] == [{"source": "osm"}]
    both = geojson_edit.edited(GROUND, {}, ["oak", "way"])
    assert json.loads(both)["features"] == []
    first = geojson_edit.edited(geojson_edit.EMPTY, {"pole-01": new}, [])
    assert json.loads(first)["features"][0]["properties"]["id"] == "pole-01"
    assert json.loads(geojson_edit.edited(both, {"pole-01": new}, []))["features"]


def test_an_indented_file_gets_indented_features() -> None:
    old = json.dumps(json.loads(GROUND), indent=1) + "\n"
    oak = geojson_edit.plain(old)[0]
    grown = {**oak, "properties": {**oak["properties"], "radius_m": 3}}
    made = geojson_edit.edited(old, {"oak": grown}, [])
    assert differing(old, made) == [('    "radius_m": 2,', '    "radius_m": 3,')]


@pytest.mark.parametrize("text", ["[]", "{}", '{"features": 3}', "", '{"features": [1]}', "{"])
def test_no_collection_is_refused(text: str) -> None:
    with pytest.raises((ValueError, IndexError)):
        geojson_edit.parts(text)
