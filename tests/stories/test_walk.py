"""From a recording, a laser scan and map data to a word, and nobody types a coordinate."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from shotplan.outing import Outing, read
from shotplan.output.answers.inventory import inventory
from shotplan.plan import make
from tests import make_walk as walk

OSM = "© OpenStreetMap contributors"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> walk.Place:
    return walk.write_place(tmp_path_factory.mktemp("walk"))


@pytest.fixture(scope="module")
def printed(place: walk.Place) -> str:
    return place.new(place.scan.parent / "moor")


@pytest.fixture(scope="module")
def outing(place: walk.Place, printed: str) -> Outing:
    return read(place.scan.parent / "moor")


def apart(outing: Outing, xy_m: tuple[float, float]) -> float:
    """From a point of the place to the nearest crown's middle."""
    here = outing.site.frame.xy_m(walk.lonlat([xy_m]))[0]
    trees = [t for t in outing.site.obstacles.things if t.role == "tree"]
    return min(float(np.linalg.norm(t.where_m[0] - here)) for t in trees)


def test_it_prints_what_was_found_and_what_is_left(printed: str) -> None:
    found = printed.split("Guessed:")[0]
    assert "lidar: moor.laz" in found
    assert "lidar sees no wires" in found
    assert "2025-09-14" in found
    assert len(found.splitlines()) <= 25
    assert "nobody looked for wires" in printed.replace("\n  ", " ")


def test_every_tree_stands_where_it_was_put(outing: Outing) -> None:
    """Against the list the scan was made from."""
    for east, north, height, crown in walk.TREES:
        assert apart(outing, (east, north)) < 1.0, (east, north)
        here = outing.site.frame.xy_m(walk.lonlat([(east, north)]))[0]
        (one,) = [t for t in outing.site.obstacles.things
                  if t.role == "tree" and np.linalg.norm(t.where_m[0] - here) < 1.0]  # fmt: skip
        assert height - 1.5 < one.height_m < height + 0.5
        assert crown - 0.6 < one.radius_m < crown + 0.6


def test_the_strip_without_a_return_was_not_looked_at(outing: Outing) -> None:
    before, within = walk.UNSEEN[0] - 8.0, sum(walk.UNSEEN) / 2.0
    xy = outing.site.frame.xy_m(walk.lonlat([(before, 80.0), (within, 80.0)]))
    assert outing.site.looked(xy, ("trees", "buildings")).tolist() == [True, False]


def test_the_ground_is_that_of_the_scan(outing: Outing) -> None:
    ride = walk.ride_m()
    found = outing.site.terrain.ground_m(outing.site.frame.xy_m(walk.lonlat(ride)))
    assert found == pytest.approx(walk.ground_m(*ride.T), abs=0.15)


def test_it_is_planned_and_survey_says_where_it_is_from(outing: Outing) -> None:
    plan = make(replace(outing, disturbance=replace(outing.disturbance, rides=1)))
    assert plan.verdict.word in {"no-go", "unknown"}  # the weather and the wires are not known
    assert len(plan.shots) == 2
    assert "moor.laz, of 14 September 2025" in dict(inventory(outing).there)["from lidar"]


def test_map_data_added_later_stands_beside_the_scan(place: walk.Place, printed: str) -> None:
    folder = place.scan.parent / "moor"
    before = json.loads((folder / "ground.geojson").read_text("utf-8"))["features"]
    walk.run("add", folder, "--osm", place.osm)
    outing = read(folder)
    after = json.loads((folder / "ground.geojson").read_text("utf-8"))["features"]
    assert [f for f in after if f in before] == before
    assert OSM in outing.site.credits
    roles = [f["properties"]["role"] for f in after if f not in before]
    assert {"wire", "people", "water"} <= set(roles)
    assert "tree" not in roles  # the three of the map are the scan's
    before_that = (folder / "ground.geojson.before").read_text("utf-8")
    assert json.loads(before_that)["features"] == before
