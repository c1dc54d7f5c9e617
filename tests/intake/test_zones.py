"""Flight zones in both published forms; the structure of the files is from memory."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import Geod

from shotplan.errors import Problems
from shotplan.intake.found import Found
from shotplan.intake.zones import read_zones
from shotplan.outing import read
from shotplan.plan import make
from tests.worlds import lonlat, write_site

RIDE = np.array([lonlat(0.0, -100.0), lonlat(0.0, 100.0)])
AUTHORITY = [{"name": "Moor Office", "phone": "+00 1", "intervalBefore": "P2D"}]


def ed269(**says: Any) -> dict[str, Any]:
    """A zone as ED-269 has it: a circle of 500 m about the middle, 30 to 120 m above ground."""
    flat = says.pop("flat", {"type": "Circle", "center": lonlat(0.0, 0.0), "radius": 500.0})
    volume = {
        "uomDimensions": "M", "lowerLimit": 30, "lowerVerticalReference": "AGL",
        "upperLimit": 120, "upperVerticalReference": "AGL", "horizontalProjection": flat,
        **says.pop("volume", {}),
    }  # fmt: skip
    zone = {
        "identifier": "Z1", "country": "SVN", "name": "Moor", "type": "COMMON",
        "restriction": "REQ_AUTHORISATION", "reason": ["NATURE"], "zoneAuthority": AUTHORITY,
        "applicability": [{"permanent": "YES"}], "geometry": [volume],
    }  # fmt: skip
    return {**zone, **says}


def ed318(**says: Any) -> dict[str, Any]:
    """The same zone as ED-318 has it."""
    old = ed269(**says)
    (volume,) = old.pop("geometry")
    old["name"] = [{"text": "Barje", "lang": "sl-SI"}, {"text": "Moor", "lang": "en-GB"}]
    old["limitedApplicability"] = old.pop("applicability")
    layer = {"lower": volume["lowerLimit"], "lowerReference": volume["lowerVerticalReference"],
             "upper": volume["upperLimit"], "upperReference": volume["upperVerticalReference"],
             "uom": volume["uomDimensions"].lower()}  # fmt: skip
    flat = volume["horizontalProjection"]
    place = {"type": "Point", "coordinates": flat["center"],
             "extent": {"subType": "Circle", "radius": flat["radius"]}}  # fmt: skip
    return {"type": "Feature", "properties": old, "geometry": {**place, "layer": layer}}


def asked(folder: Path, *zones: Any, **more: Any) -> tuple[Found | None, list[str]]:
    path = folder / "zones.json"
    path.write_text(json.dumps({"title": "t", "features": list(zones)}), "utf-8")
    problems = Problems()
    return read_zones(path, RIDE, problems, **more), [str(p) for p in problems.found]


def found(folder: Path, *zones: Any, **more: Any) -> Found:
    made, problems = asked(folder, *zones, **more)
    assert problems == []
    assert made is not None
    return made


@pytest.mark.parametrize("form", [ed269, ed318])
def test_both_forms_give_the_same_area(tmp_path: Path, form: Any) -> None:
    (made,) = found(tmp_path, form()).features
    says = made["properties"]
    assert (says["role"], says["floor_m"], says["ceiling_m"]) == ("keep-out", 30.0, 120.0)
    assert says["name"] == "Moor (Z1)"
    for word in ("needs action", "authorisation", "Moor Office", "+00 1", "P2D"):
        assert word in says["reason"]


def test_a_circle_lies_inside_its_polygon(tmp_path: Path) -> None:
    (made,) = found(tmp_path, ed269()).features
    shape = shapely.geometry.shape(made["geometry"])
    lon, lat = lonlat(0.0, 0.0)
    turn = np.arange(0.0, 360.0, 1.0)
    ones = np.ones_like(turn)
    east, north, _ = Geod(ellps="WGS84").fwd(lon * ones, lat * ones, turn, 500.0 * ones)
    assert shapely.contains_xy(shape, east, north).all()
    east, north, _ = Geod(ellps="WGS84").fwd(lon * ones, lat * ones, turn, 502.0 * ones)
    assert not shapely.contains_xy(shape, east, north).any()


def test_sea_level_becomes_ground_on_the_careful_side(tmp_path: Path) -> None:
    sea = {"volume": {"lowerLimit": 1000, "lowerVerticalReference": "AMSL", "upperLimit": 2000,
                      "upperVerticalReference": "AMSL"}}  # fmt: skip
    (made,) = found(tmp_path, ed269(**sea), ground_m=(700.0, 900.0)).features
    assert (made["properties"]["floor_m"], made["properties"]["ceiling_m"]) == (100.0, 1300.0)
    unknown = found(tmp_path, ed269(**sea))
    assert not {"floor_m", "ceiling_m"} & set(unknown.features[0]["properties"])
    assert any("taken as the ground" in s for s in unknown.said)
    feet = {"volume": {"uomDimensions": "FT", "lowerLimit": 100, "upperLimit": 400}}
    (made,) = found(tmp_path, ed269(**feet)).features
    assert (made["properties"]["floor_m"], made["properties"]["ceiling_m"]) == (30.5, 121.9)


def test_times_are_asked_and_said(tmp_path: Path) -> None:
    hours = {"day": ["SAT"], "startTime": "08:00Z", "endTime": "18:00Z"}
    span = {"startDateTime": "2026-05-01T00:00:00Z", "endDateTime": "2026-08-31T00:00:00Z"}
    summer = {**span, "schedule": [hours]}
    zone = ed269(applicability=[summer])
    (made,) = found(tmp_path, zone, at=datetime(2026, 6, 1, tzinfo=UTC)).features
    assert "2026-05-01 00:00 to 2026-08-31" in made["properties"]["reason"]
    assert "SAT 08:00Z to 18:00Z" in made["properties"]["reason"]
    winter = found(tmp_path, zone, at=datetime(2026, 12, 1, tzinfo=UTC))
    assert winter.features == ()
    assert any("not in force" in s for s in winter.said)
    assert len(found(tmp_path, zone).features) == 1


@pytest.mark.parametrize("word", ["PROHIBITED", "CONDITIONAL", "REQ_AUTHORISATION", "NEWWORD"])
def test_no_zone_with_a_restriction_is_clear(tmp_path: Path, word: str) -> None:
    (made,) = found(tmp_path, ed269(restriction=word)).features
    begins = "no flying" if word == "PROHIBITED" else "needs action: "
    assert made["properties"]["reason"].startswith(begins)


def test_far_zones_and_wrong_countries(tmp_path: Path) -> None:
    near = {"type": "Circle", "center": lonlat(20_000.0, 0.0), "radius": 500.0}
    made = found(tmp_path, ed269(flat=near), country="FI")
    assert made.features == ()
    assert any("not leave to fly" in s for s in made.said)
    assert any("SVN" in s and "FI" in s for s in made.said)
    assert not any("SVN" in s for s in found(tmp_path, ed269(), country="SI").said)
    far = {"type": "Circle", "center": [-70.0, -30.0], "radius": 500.0}
    made_far, problems = asked(tmp_path, ed269(flat=far))
    assert made_far is None
    assert "country it is in" in problems[0]


SPOILT: dict[str, dict[str, Any]] = {
    "radius is -5": {"flat": {"type": "Circle", "center": [14.0, 46.0], "radius": -5}},
    "wanted a number": {"flat": {"type": "Circle", "center": [14.0, "x"], "radius": 5}},
    "a place at": {"flat": {"type": "Circle", "center": [14.0, 460.0], "radius": 5}},
    "a ring of 2": {"flat": {"type": "Polygon", "coordinates": [[[14, 46], [14, 47], [14, 46]]]}},
    "wanted Circle or Polygon": {"flat": {"type": "Blob"}},
    "wanted M or FT": {"volume": {"uomDimensions": "NM"}},
    "no offset": {"applicability": [{"startDateTime": "2026-05-01T00:00:00"}]},
    "no geometry": {"geometry": []},
}


def test_everything_wrong_is_said_at_once(tmp_path: Path) -> None:
    made, problems = asked(tmp_path, ed269(), *(ed269(**bad) for bad in SPOILT.values()), 7)
    assert made is None
    assert len(problems) == len(SPOILT) + 1
    for wanted, got in zip(SPOILT, problems, strict=False):
        assert wanted in got


@pytest.mark.parametrize("text", ["", "<html>", "[]", '{"features": []}', "[" * 100_000])
def test_what_is_no_zone_file(tmp_path: Path, text: str) -> None:
    path = tmp_path / "z.json"
    path.write_text(text)
    problems = Problems()
    assert read_zones(path, RIDE, problems) is None
    assert len(problems) == 1


def test_a_site_with_zones_is_read_and_refused(tmp_path: Path) -> None:
    low = found(tmp_path, ed269(volume={"lowerLimit": 0})).features
    plan = make(read(write_site(tmp_path / "site", features=low)), rides=1)
    (shot,) = plan
    assert str(shot.finding("keep-out").verdict) == "no-go"
