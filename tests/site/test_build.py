"""A folder's drawings as the site's nouns: obstacles as drawn and grown, areas, points."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.errors import BadInput
from shotplan.model.site import Site
from shotplan.outing import read as read_outing
from tests.worlds import (
    GROUND_M,
    box,
    feature,
    gpx_text,
    line,
    place,
    point,
    polygon,
    straight,
    tree,
    write_site,
)


def read(folder: Path, *features: dict[str, Any], **more: Any) -> Site:
    return read_outing(write_site(folder, features=features, **more)).site


def test_things_are_grown_by_their_error_and_the_ride_s(tmp_path: Path) -> None:
    site = read(
        tmp_path,
        tree("oak", east_m=20.0, north_m=0.0),
        tree("ash", east_m=40.0, north_m=0.0, error_m=3.0, height_error_m=0.2, base_m=2.0),
        site={"map_error_m": 1.2, "ride": {"error_m": 1.6}},
    )
    oak, ash = site.obstacles.things
    assert (oak.error_m, oak.height_error_m) == pytest.approx((2.0, 1.0))
    assert ash.error_m == pytest.approx(np.hypot(3.0, 1.6))
    columns = site.obstacles.rest_grown.columns
    np.testing.assert_allclose(columns.radius_m, [4.0, 2.0 + 3.4, 0.3 + 3.4])
    np.testing.assert_allclose(columns.top_m, GROUND_M + np.array([11.0, 10.2, 1.8]))
    np.testing.assert_array_equal(site.obstacles.rest_grown.column_thing, [0, 1, 1])
    np.testing.assert_allclose(site.obstacles.rest_drawn.columns.radius_m, [2.0, 2.0, 0.3])


def test_a_drawn_line_and_a_recording_have_their_own_errors(tmp_path: Path) -> None:
    assert read(tmp_path / "drawn").ride_error_m == 0.5
    recorded = gpx_text(straight(0.0), np.array([0.0, 40.0]))
    # The one leg of 40 s is a gap bridged straight.
    outing = read_outing(write_site(tmp_path / "recorded", ride=recorded))
    assert (outing.site.ride_error_m, outing.site.ride_leaves_error_m) == (2.5, 6.0)
    assert outing.repairs == (
        "ride.gpx: 1 gap longer than 10 s bridged straight, the longest 40 s over 200 m",
    )


def test_only_trees_woods_and_buildings_cut_a_line_of_sight(tmp_path: Path) -> None:
    site = read(
        tmp_path,
        tree("oak", east_m=20.0, north_m=0.0),
        feature("mast", "pole", point(30.0, 0.0), height_m=8.0),
        feature("line-1", "wire", line([(40.0, -50.0), (40.0, 50.0)]), height_m=9.0),
        feature("barn", "building", polygon(box(50, 0, 60, 8)), height_m=5.0),
        feature("copse", "wood", polygon(box(70, 0, 90, 20)), height_m=12.0),
    )
    found = site.obstacles
    ids = [t.id for t in found.things]
    seen = {ids[k] for k in (*found.opaque.column_thing, *found.opaque.prism_thing)}
    assert seen == {"oak", "barn", "copse"}
    rest = {ids[k] for k in (*found.rest_grown.column_thing, *found.rest_grown.prism_thing)}
    assert rest == {"oak", "mast", "barn", "copse"}
    assert {ids[k] for k in found.wires_grown.prism_thing} == {"line-1"}
    assert {t.id: t.role for t in found.things}["mast"] == "pole"


def test_wires_without_a_height(tmp_path: Path) -> None:
    path = line([(40.0, -50.0), (40.0, 50.0)])
    site = read(
        tmp_path,
        feature("local", "wire", path, kind="local", sag_m=0.0),
        feature("big", "wire", path, kind="transmission"),
        feature("some", "wire", path),
    )
    found = site.obstacles
    np.testing.assert_allclose(found.wires_drawn.prisms.top_m, GROUND_M + 10.4)
    np.testing.assert_array_equal(found.wires_grown.doubtful_thing, [1, 2])
    np.testing.assert_allclose(found.wires_drawn.doubtful.radius_m, 30.0)
    np.testing.assert_allclose(found.wires_grown.doubtful.radius_m, 30.0 + np.hypot(1.0, 0.5))
    said = " ".join(found.assumptions)
    assert "local: its height is not given, taken as 10.4 m" in said
    assert "big: its height is not given; within 30 m" in said
    assert found.wires_grown.doubt_m(np.array([[30.0, 0.0, 90.0]]))[0] == 0.0


def test_a_wire_with_a_height_per_support(tmp_path: Path) -> None:
    path = line([(40.0, -50.0), (40.0, 50.0)])
    site = read(tmp_path, feature("w", "wire", path, height_m=[8.0, 12.0], sag_m=0))
    top = site.obstacles.wires_drawn.prisms.top_m
    np.testing.assert_allclose(
        [top.min(), top.max()], [GROUND_M + 8.04, GROUND_M + 12.0], atol=0.01
    )


def test_a_wood_is_cut_only_where_the_ride_says_so(tmp_path: Path) -> None:
    wood = feature("copse", "wood", polygon(box(-20, -20, 20, 20)), height_m=12.0)
    rider = np.array([[0.0, 0.0, GROUND_M + 1.0]])
    closed = read(tmp_path / "closed", wood).obstacles
    assert closed.rest_grown.nearest(rider).distance_m[0] == 0.0
    open_ = read(tmp_path / "open", wood, site={"ride": {"clear_m": 4.0}}).obstacles
    np.testing.assert_allclose(open_.rest_grown.nearest(rider).distance_m, 1.5, atol=1e-6)
    np.testing.assert_allclose(open_.rest_drawn.nearest(rider).distance_m, 2.0, atol=1e-6)
    assert "open 4 m wide along the ride, to the sky" in open_.assumptions[0]


def test_the_track_through_a_wood_does_not_end_where_filming_does(tmp_path: Path) -> None:
    wood = feature("copse", "wood", polygon(box(-20, -90, 20, 20)), height_m=12.0)
    cropped = {"ride": {"clear_m": 4.0, "from_m": 120.0}}
    found = read(tmp_path, wood, site=cropped).obstacles
    behind = np.array([[0.0, -60.0, GROUND_M + 1.0]])
    np.testing.assert_allclose(found.rest_grown.nearest(behind).distance_m, 1.5, atol=1e-6)


def test_keep_outs_follow_the_ground(tmp_path: Path) -> None:
    area = polygon(box(20, 0, 40, 20))
    site = read(
        tmp_path,
        feature("tower", "keep-out", area, floor_m=10.0, ceiling_m=30.0, reason="noise"),
        feature("farm", "keep-out", area),
        feature("low", "keep-out", area, ceiling_m=30),
        site={"map_error_m": 0.0, "ride": {"error_m": 0.0}},  # else they are grown
        terrain=lambda x, y: 100.0 + 0.1 * x,
    )
    tower, farm, low = site.zones
    assert tower.prisms.top_m.min() == pytest.approx(133.0, abs=0.05)
    assert tower.prisms.top_m.max() == pytest.approx(134.0, abs=0.05)
    assert tower.prisms.bottom_m.min() == pytest.approx(112.0, abs=0.05)
    assert np.isinf(farm.prisms.top_m).all()
    assert np.isneginf(low.prisms.bottom_m).all()
    assert low.floor_m == -np.inf
    assert tower.reason == "noise"


def test_surveyed_areas_inherit_what_they_do_not_say(tmp_path: Path) -> None:
    first = feature(
        "near", "surveyed", polygon(box(0, 0, 50, 50)), looked_for=["trees"], on="2026-06-09"
    )
    second = feature("far", "surveyed", polygon(box(60, 0, 90, 50)), least_height_m=1.5)
    site = read(tmp_path, first, second)
    near, far = site.surveyed
    assert near.looked_for == {"trees"}
    assert (near.on, far.on) == ("2026-06-09", "2026-06-02")
    assert (near.least_height_m, far.least_height_m) == (0.5, 1.5)
    assert len(far.looked_for) == 5
    assert site.looked(np.array([[25.0, 25.0]]), ("trees",)).all()
    assert not site.looked(np.array([[25.0, 25.0], [200.0, 0.0]]), ("wires",)).any()


def test_without_surveyed_areas_the_boundary_was_looked_at(tmp_path: Path) -> None:
    middle = np.array([[0.0, 0.0]])
    assert read(tmp_path / "a").looked(middle, ("trees", "wires")).all()
    assert not read(tmp_path / "b", site={"survey": None}).looked(middle, ("trees",)).any()
    assert read(tmp_path / "c", without=["area"]).surveyed == ()


def test_people_wildlife_and_places(tmp_path: Path) -> None:
    site = read(
        tmp_path,
        feature("path", "people", line([(40, -50), (40, 50)]), state="held", held_by="Bo"),
        feature("beach", "people", polygon(box(60, 0, 90, 50))),
        feature(
            "terns", "wildlife", point(99, 0), **{"from": "04-01", "to": "08-15"}, stand_off_m=80
        ),
        place("cairn", east_m=10.0, north_m=5.0, name="The cairn", height_m=1.4),
    )
    path, beach = site.people
    assert (path.geometry, path.state, path.held_by) == ("line", "held", "Bo")
    assert (beach.geometry, beach.state) == ("polygon", "may-pass")
    assert path.error_m == pytest.approx(np.hypot(1.0, 0.5))
    (terns,) = site.wildlife
    assert (terns.season_from, terns.season_to, terns.stand_off_m) == ("04-01", "08-15", 80.0)
    cairn = site.places["cairn"]
    np.testing.assert_allclose(cairn.xyz_m, [10.0, 5.0, GROUND_M], atol=1e-6)
    assert cairn.label == "The cairn"
    assert site.launch is not None


def test_water_lies_on_the_terrain_at_its_level(tmp_path: Path) -> None:
    lake = feature("lake", "water", polygon(box(20, 0, 40, 20)), level_m=90.0)
    pond = feature("pond", "water", polygon(box(60, 0, 80, 20)))
    site = read(tmp_path, lake, pond)
    found = site.terrain.ground_m(np.array([[30.0, 10.0], [70.0, 10.0], [0.0, 0.0]]))
    np.testing.assert_allclose(found, [90.0, 84.0, 84.0])


@pytest.mark.parametrize(
    ("drawn", "said"),
    [
        (feature("x", "tre", point(5, 5), height_m=3, radius_m=1), 'did you mean "tree"'),
        (feature("x", "place", polygon(box(0, 0, 5, 5))), "got a Polygon; wanted a Point"),
        (
            tree("x", east_m=5, north_m=5, height_m=-2.0),
            "height_m: got -2.0; wanted a number at least",
        ),
        (tree("x", east_m=5, north_m=5, base_m=12.0), "base_m is 12, not below height_m 10"),
        (tree("x", east_m=5, north_m=5, hieght_m=3.0), 'did you mean "height_m"'),
        (feature("x", "tree", point(5, 5), height_m=3.0), "radius_m is missing"),
        (feature("x", "wire", line([(0, 0), (9, 9)]), height_m=[4.0]), "1 values for 2 vertices"),
        (
            feature("x", "wood", polygon([(0, 0), (9, 9), (9, 0), (0, 5)]), height_m=9.0),
            "draw it without crossings",
        ),
        (feature("x", "people", point(5, 5), state="held"), "held_by"),
        (feature("x", "people", point(5, 5), state="held", held_by="Bob"), 'did you mean "Bo"'),
        (
            feature("x", "wildlife", point(5, 5), **{"from": "13-01", "to": "08-15"}),
            "month and day",
        ),
        (feature("x", "wildlife", point(5, 5), to="08-15"), "both from and to"),
        (
            feature("x", "keep-out", polygon(box(0, 0, 5, 5)), floor_m=9.0, ceiling_m=9.0),
            "not below ceiling_m",
        ),
        (feature("area-2", "boundary", polygon(box(0, 0, 5, 5))), "2 boundaries"),
        (feature("x", "tree", point(5, 5), height_m=3, radius_m=1, on="June"), "wanted a date"),
    ],
)
def test_what_is_drawn_wrong_is_said_with_its_id(
    tmp_path: Path, drawn: dict[str, Any], said: str
) -> None:
    with pytest.raises(BadInput) as caught:
        read(tmp_path, drawn)
    assert len(caught.value.problems) == 1, str(caught.value)
    assert said in str(caught.value)
    assert "ground.geojson" in str(caught.value)
    assert drawn["id"] in str(caught.value)
