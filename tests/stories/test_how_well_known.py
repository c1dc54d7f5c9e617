"""How well places are known, and since when: the smallest site that shows each, on flat ground.

The ride leads 200 m north through the middle unless told otherwise, and the flight 12 m to its
left and 6 m over it, so 12 m west of the middle line.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan.errors import BadInput
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.plan import make
from tests.asked import only
from tests.worlds import (
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

EXACT = {"map_error_m": 0.0, "ride": {"error_m": 0.0}}
WHOLE = polygon(box(-400, -400, 400, 400))
HALF_SPAN_M = 0.18


def asked(folder: Path, check: str, *features: dict[str, Any], **world: Any) -> Finding:
    with only(check):
        (shot,) = make(read(write_site(folder, features=features, **world)), rides=1)
    return shot.finding(check)


# -- what may be missing


@pytest.mark.parametrize("looked_for", ["wildlife", "people", "buildings"])
def test_a_second_survey_for_something_else_makes_no_tree_lower(
    tmp_path: Path, looked_for: str
) -> None:
    # Nobody looked for trees under 4 m: half a span, 2 m and 4 m are more than the 6 m flown. That
    # somebody else looked there for birds says nothing about trees.
    trees = feature("walked", "surveyed", WHOLE, least_height_m=4.0)
    alone = asked(tmp_path / "alone", "ground", trees, site=EXACT)
    other = feature("seen", "surveyed", WHOLE, looked_for=[looked_for], least_height_m=0.5)
    both = asked(tmp_path / "both", "ground", trees, other, site=EXACT)
    assert alone.verdict == both.verdict == Verdict.NO_GO
    assert both.limit == alone.limit == pytest.approx(HALF_SPAN_M + 2.0 + 4.0)


def test_a_closer_look_for_the_same_makes_the_ground_lower(tmp_path: Path) -> None:
    coarse = feature("coarse", "surveyed", WHOLE, least_height_m=4.0)
    kinds = ["trees", "buildings", "wires", "people", "wildlife"]
    fine = feature("fine", "surveyed", WHOLE, looked_for=kinds, least_height_m=1.0)
    site = read(write_site(tmp_path, features=[coarse, fine], site=EXACT)).site
    assert site.least_height_m(np.zeros((1, 2)))[0] == 1.0


def test_a_kind_nobody_looked_for_there_has_no_say(tmp_path: Path) -> None:
    near = feature(
        "near", "surveyed", polygon(box(-50, -50, 50, 50)), looked_for=["trees"], least_height_m=2.0
    )
    far = feature("far", "surveyed", polygon(box(100, -50, 150, 50)), least_height_m=3.0)
    site = read(write_site(tmp_path, features=[near, far], site=EXACT)).site
    places = np.array([[0.0, 0.0], [120.0, 0.0], [80.0, 0.0]])
    np.testing.assert_array_equal(site.least_height_m(places), [2.0, 3.0, 0.5])


# -- where an area may be


def test_a_boundary_shrinks_by_its_error(tmp_path: Path) -> None:
    # The flight is 12 m west of the ride, 8 m inside the edge at 20 m. 3-4-5: hypot(6, 8) = 10 m.
    edge = feature("area", "boundary", polygon(box(-20, -400, 400, 400)))
    sure, ride = {"without": ["area"], "site": EXACT}, np.array([[0.0, -100.0], [0.0, 100.0]])
    drawn = asked(tmp_path / "sure", "boundary", edge, ride=ride, **sure)
    assert drawn.verdict == Verdict.GO
    assert drawn.value == pytest.approx(8.0 - HALF_SPAN_M, abs=0.02)
    for says, site in (
        ({"error_m": 6.0}, {"map_error_m": 0.0, "ride": {"error_m": 8.0}}),
        ({}, {"map_error_m": 6.0, "ride": {"error_m": 8.0}}),
    ):
        edge = feature("area", "boundary", polygon(box(-20, -400, 400, 400)), **says)
        shrunk = asked(
            tmp_path / f"{len(says)}", "boundary", edge, ride=ride, without=["area"], site=site
        )
        assert shrunk.verdict == Verdict.NO_GO
        assert shrunk.value == pytest.approx(8.0 - 10.0 - HALF_SPAN_M, abs=0.02)
        assert "too near to the boundary to be sure of it" in shrunk.reason
        assert any("one standard error" in a for a in shrunk.assumptions)


def test_a_survey_shrinks_by_its_error(tmp_path: Path) -> None:
    walked = polygon(box(-20, -400, 400, 400))
    sure = asked(tmp_path / "a", "clearance", feature("walked", "surveyed", walked), site=EXACT)
    assert sure.verdict == Verdict.GO
    doubt = feature("walked", "surveyed", walked, error_m=9.0)
    found = asked(tmp_path / "b", "clearance", doubt, site=EXACT)
    assert found.verdict == Verdict.UNKNOWN
    assert "nobody has looked for" in found.reason


def test_a_keep_out_grows_by_its_error(tmp_path: Path) -> None:
    # Its near side is 3 m west of the flight.
    for error_m, verdict, word in ((0.0, Verdict.GO, ""), (4.0, Verdict.NO_GO, "may be entered")):
        farm = feature("farm", "keep-out", polygon(box(-90, -50, -15, 50)), error_m=error_m)
        found = asked(tmp_path / f"{error_m}", "keep-out", farm, site=EXACT)
        assert found.verdict == verdict
        assert found.value == pytest.approx(max(3.0 - error_m, 0.0) - HALF_SPAN_M, abs=0.01)
        assert word in found.reason


def test_wildlife_grows_by_its_error(tmp_path: Path) -> None:
    for error_m, verdict in ((0.0, Verdict.GO), (10.0, Verdict.NO_GO)):
        terns = feature("terns", "wildlife", point(-72, 0), stand_off_m=55, error_m=error_m)
        found = asked(tmp_path / f"{error_m}", "wildlife", terns, site=EXACT)
        assert found.verdict == verdict
        assert found.value == pytest.approx(60.0 - error_m, abs=0.01)


def test_a_launch_that_may_be_elsewhere_may_be_near_wildlife(tmp_path: Path) -> None:
    for error_m, said in ((0.0, False), (10.0, True)):
        terns = feature("terns", "wildlife", point(135, 0), stand_off_m=50, error_m=0.0)
        launch = place("launch", east_m=30.0, north_m=0.0, error_m=error_m)
        found = asked(
            tmp_path / f"{error_m}", "wildlife", terns, launch, without=["launch"], site=EXACT
        )
        assert any("the launch is 95.0 m from terns" in r.text for r in found.remarks) is said


def test_water_grows_by_its_error(tmp_path: Path) -> None:
    # Its shore is at 15 m west. 3-4-5: hypot(3, 4) = 5 m.
    lake = feature("lake", "water", polygon(box(-90, -50, -15, 50)), level_m=90.0, error_m=3.0)
    here = np.array([[-12.1, 0.0], [-10.1, 0.0]])
    for ride_m, over in ((0.0, [True, False]), (4.0, [True, True])):
        says = {"map_error_m": 0.0, "ride": {"error_m": ride_m}}
        terrain = read(write_site(tmp_path / f"{ride_m}", features=[lake], site=says)).site.terrain
        assert terrain.over_water(here).tolist() == over
        np.testing.assert_array_equal(terrain.ground_m(here), np.where(over, 90.0, 84.0))
        deep = np.array([[-12.1, 0.0, 92.0]])
        assert terrain.distance_m(deep)[0] == pytest.approx(2.0)


# -- a recording's error


def test_a_recording_under_leaves_is_less_sure_than_in_the_open(tmp_path: Path) -> None:
    # Its first half leads through a wood. Tomaštík et al. 2017, Forestry 90:187: 1.90 to 2.36 m in
    # the open, 4.96 to 11.45 m under leaves; DEFINITIONS "Error": 2.5 and 6 m.
    wood = feature("wood", "wood", polygon(box(-40, -400, 40, -20)), height_m=12.0)
    drawn = [
        wood,
        tree("inside", east_m=9.0, north_m=-70.0),
        tree("outside", east_m=9.0, north_m=70.0),
        feature("path", "people", line([(30.0, 60.0), (30.0, 90.0)]), error_m=0.0),
    ]
    recorded = gpx_text(straight(0.0), np.array([0.0, 40.0]))

    def errors(folder: str, **ride: Any) -> dict[str, float]:
        world = {"ride": recorded} if not ride else {"ride": recorded, "site": {"ride": ride}}
        site = read(write_site(tmp_path / folder, features=drawn, **world)).site
        found = {t.id: t.error_m for t in site.obstacles.things}
        return found | {"path": site.people[0].error_m, "area": site.boundary_error_m}

    found = errors("recorded")
    assert found["outside"] == pytest.approx(np.hypot(1.0, 2.5))
    assert found["inside"] == found["wood"] == found["area"] == pytest.approx(np.hypot(1.0, 6.0))
    assert found["path"] == 2.5
    said = errors("said", error_m=2.0)
    assert said["inside"] == said["outside"] == pytest.approx(np.hypot(1.0, 2.0))


def test_one_receiver_has_one_error(tmp_path: Path) -> None:
    outing = read(write_site(tmp_path, ride=gpx_text(straight(0.0), np.array([0.0, 40.0]))))
    said = outing.disturbance
    assert said.receiver_open_m == outing.site.ride_error_m == 2.5
    assert said.receiver_leaves_m == outing.site.ride_leaves_error_m == 6.0


# -- feet, undersides


def test_a_tree_below_a_lip_may_stand_on_it(tmp_path: Path) -> None:
    # A face 20 m high 10 m east of the ride, whose tops are at 84 m; the tree is drawn 4 m beyond
    # it. The flight passes 6 m over the rider, so it clears a tree at the foot by far.
    ground = {"terrain": lambda x, y: np.where(x < 10.0, 84.0, 64.0), "cell_m": 1.0}
    shot = [{"name": "over it", "style": "top-down", "height_m": 12.0}]
    site = {"shot": shot, "keep_clear_m": 2.0, "ride": {"error_m": 12.0}}

    def found(error_m: float) -> Finding:
        ash = tree("ash", east_m=14.0, north_m=0.0, height_m=15.0, error_m=error_m)
        return asked(tmp_path / f"{error_m}", "clearance", ash, site=site, **ground)

    assert found(1.0).verdict == Verdict.GO
    assert found(6.0).verdict == Verdict.NO_GO


def test_a_crown_may_hang_lower_than_it_was_guessed(tmp_path: Path) -> None:
    # It flies 6 m up; the underside at 9 m leaves 3 m, the limit is 2.18 m.
    for error_m, value in ((0.0, 3.0), (1.0, 2.0)):
        oak = tree(
            "oak", east_m=-12.0, north_m=0.0, radius_m=6.0, base_m=9.0, height_m=15.0,
            trunk_radius_m=0.01, height_error_m=error_m, error_m=0.0,
        )  # fmt: skip
        wood = feature(
            "wood", "wood", polygon(box(-30, 20, -6, 60)), height_m=15.0, base_m=9.0,
            height_error_m=error_m, error_m=0.0,
        )  # fmt: skip
        one = read(write_site(tmp_path / f"{error_m}", features=[oak, wood], site=EXACT)).site
        under = np.array([[-16.0, 0.0, 90.0], [-12.0, 40.0, 90.0]])
        away = one.obstacles.rest_grown.nearest(under).distance_m
        np.testing.assert_allclose(away, value, atol=0.01)


# -- since when


LATER = date(2026, 6, 21)  # the flight is on the 20th


@pytest.mark.parametrize(
    ("features", "site", "where"),
    [
        ((), {"survey": {"on": LATER}}, "[survey]"),
        ((feature("walked", "surveyed", WHOLE, on="2026-06-21"),), {}, "walked"),
        ((tree("oak", east_m=60.0, north_m=0.0, on="2031-01-01"),), {}, "oak"),
        (
            (),
            {
                "beside": [
                    {"role": "pole", "at_m": 9.0, "left_m": 5.0, "height_m": 3.0, "on": LATER}
                ]
            },
            "[[beside]] 1",
        ),
    ],
)
def test_nobody_has_looked_after_the_day_of_the_flight(
    tmp_path: Path, features: tuple[dict[str, Any], ...], site: dict[str, Any], where: str
) -> None:
    with pytest.raises(BadInput) as caught:
        read(write_site(tmp_path, features=features, site=site))
    (problem,) = caught.value.problems
    assert where in problem.where
    assert "after the day of the flight, 2026-06-20" in problem.what


@pytest.mark.parametrize(
    ("on", "old"),
    [(date(2026, 6, 20), False), (date(2025, 6, 20), False), (date(2025, 6, 19), True)],
)
def test_a_survey_older_than_a_year_is_a_caution_that_names_growth(
    tmp_path: Path, on: date, old: bool
) -> None:
    found = asked(tmp_path, "clearance", site={"survey": {"on": on}})
    assert found.verdict == (Verdict.CAUTION if old else Verdict.GO)
    said = " ".join((found.reason, found.advice, *(r.text for r in found.remarks)))
    assert ("young trees grow up to 1 m a year" in said) is old
    assert ("look again" in said) is old


def test_the_last_look_counts_where_two_were_there(tmp_path: Path) -> None:
    old = feature("old", "surveyed", WHOLE, on="2019-05-02")
    new = polygon(box(-400, -400, 400, 0))
    looked = feature("new", "surveyed", new, on="2026-05-02", looked_for=["trees"])
    found = asked(tmp_path / "half", "clearance", old, looked, site=EXACT)
    assert found.verdict == Verdict.CAUTION
    whole = feature("new", "surveyed", WHOLE, on="2026-05-02")
    assert asked(tmp_path / "whole", "clearance", old, whole, site=EXACT).verdict == Verdict.GO


def test_a_survey_without_a_date_asks_for_it(tmp_path: Path) -> None:
    found = asked(tmp_path, "clearance", site={"survey": {"on": None}})
    assert found.verdict == Verdict.GO
    assert any("no date says when somebody looked for trees" in r.text for r in found.remarks)
