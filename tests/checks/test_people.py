"""People who are not part of the shoot: how near, whose rule, who holds the path."""

from __future__ import annotations

import dataclasses
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.checks.people import CHECK
from shotplan.flying import stage_scene
from shotplan.judging import judge as judging
from shotplan.judging.judged import Finding
from shotplan.model.rules import PeopleRule, Source
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests import worlds

HALF_SPAN_M = 0.18
TRACK_X_M = -12.0  # the flight goes north there, 6 m up, from 103 m south to 97 m north
EXACT = {"ride": {"error_m": 0.0}, "map_error_m": 0.0}
SOURCE = Source(document="Test act", clause="1", read_on="2026-01-01", known="read")


def rule(least_m: float = 30.0, **says: Any) -> PeopleRule:
    given = {"one_to_one": False, "passing": "no-go", "source": SOURCE, **says}
    return PeopleRule(least_m=least_m, **given)


def asked(folder: Path, people: PeopleRule | None, **world: Any) -> Finding:
    world["site"] = worlds.laid_over(EXACT, world.get("site", {}))
    outing = read(worlds.write_site(folder, **world))
    outing = dataclasses.replace(outing, rules=dataclasses.replace(outing.rules, people=people))
    scene = stage_scene(outing, outing.shots[0], outing.day.start)
    return judging.find(CHECK, scene)


def area(geometry: dict[str, Any], **says: Any) -> dict[str, Any]:
    return worlds.feature("path", "people", geometry, **says)


def crossing(half_m: float = 300.0, **says: Any) -> dict[str, Any]:
    """A path that crosses under the flight, due west to due east."""
    return area(worlds.line([(-half_m, 0.0), (half_m, 0.0)]), **says)


@pytest.mark.parametrize(
    ("geometry", "away_m"),
    [
        (worlds.point(-52.0, 0.0), 40.0),
        (worlds.line([(-52.0, -200.0), (-52.0, 200.0)]), 40.0),
        (worlds.polygon(worlds.box(-90.0, -20.0, -37.0, 20.0)), 25.0),
        (worlds.polygon(worlds.box(-40.0, -200.0, 8.0, 200.0)), -20.0),
    ],
)
def test_level_distance_to_points_lines_and_areas(
    tmp_path: Path, geometry: dict[str, Any], away_m: float
) -> None:
    found = asked(tmp_path, rule(30.0), features=[area(geometry)])
    assert found.value == pytest.approx(away_m - HALF_SPAN_M, abs=0.01)
    assert found.limit == 30.0
    assert found.verdict == (Verdict.GO if away_m > 30.2 else Verdict.NO_GO)
    assert found.thing == "path"


def test_a_path_that_is_crossed_between_two_samples_is_crossed(tmp_path: Path) -> None:
    for name, north_m in (("a", 0.0), ("b", 0.31), ("c", 0.47)):
        path = area(worlds.line([(-50.0, north_m), (50.0, north_m)]))
        found = asked(tmp_path / name, rule(0.0), features=[path])
        assert found.verdict == Verdict.NO_GO
        assert found.value == pytest.approx(-HALF_SPAN_M, abs=1e-6)
        assert "above path" in found.reason


def test_height_does_not_help_and_an_area_grows_by_its_error(tmp_path: Path) -> None:
    high = {"shot": [{**worlds.SIDE_TRACK, "height_m": 80.0}], "ride": {"error_m": 3.0}}
    point = area(worlds.point(-52.0, 0.0), error_m=4.0)
    found = asked(tmp_path, rule(30.0), features=[point], site=high)
    assert found.value == pytest.approx(40.0 - HALF_SPAN_M - 5.0, abs=0.01)
    assert found.verdict == Verdict.GO


@pytest.mark.parametrize(
    ("passing", "word"), [("no-go", Verdict.NO_GO), ("caution", Verdict.CAUTION)]
)
@pytest.mark.parametrize(("away_m", "broken"), [(29.9, True), (30.4, False)])
def test_the_pack_says_what_passing_too_near_is(
    tmp_path: Path, passing: str, word: Verdict, away_m: float, broken: bool
) -> None:
    point = area(worlds.point(TRACK_X_M - away_m, 0.0))
    found = asked(tmp_path, rule(30.0, passing=passing), features=[point])
    assert found.verdict == (word if broken else Verdict.GO)
    assert found.margin == pytest.approx(away_m - HALF_SPAN_M - 30.0, abs=0.01)


def test_the_advice_in_metres_is_enough(tmp_path: Path) -> None:
    def flown(distance_m: float) -> Finding:
        shot = {"shot": [{**worlds.SIDE_TRACK, "side": "right", "distance_m": distance_m}]}
        path = area(worlds.line([(0.0, -200.0), (0.0, 200.0)]))
        return asked(tmp_path / f"{distance_m}", rule(30.0), features=[path], site=shot)

    near = flown(12.0)
    assert near.verdict == Verdict.NO_GO
    more = float(near.advice.split("fly ")[1].split(" m")[0])
    assert flown(12.0 + more).verdict == Verdict.GO
    assert flown(12.0 + more - 1.0).verdict == Verdict.NO_GO


@pytest.mark.parametrize(("away_m", "word"), [(24.0, Verdict.NO_GO), (26.0, Verdict.GO)])
def test_one_to_one_is_never_nearer_than_it_is_high(
    tmp_path: Path, away_m: float, word: Verdict
) -> None:
    shot = {"shot": [{**worlds.SIDE_TRACK, "height_m": 25.0}]}
    point = area(worlds.point(TRACK_X_M - away_m - HALF_SPAN_M, 0.0))
    found = asked(tmp_path, rule(5.0, one_to_one=True), features=[point], site=shot)
    assert found.value == pytest.approx(away_m, abs=0.01)
    assert found.limit == pytest.approx(25.0)
    assert found.verdict == word


def test_one_to_one_reckons_from_the_foot_of_a_cliff(tmp_path: Path) -> None:
    def cliff(x: np.ndarray, _y: np.ndarray) -> np.ndarray:
        return np.clip(90.0 * (x + 40.0) / 1.0, 0.0, 90.0)

    # A path from the plateau, 30 m off, down to the foot, 60 m off and 96 m below the flight.
    path = area(worlds.line([(18.0, 0.0), (18.0, 60.0), (-72.0, 60.0)]))
    found = asked(
        tmp_path, rule(0.0, one_to_one=True, passing="caution"), features=[path], terrain=cliff,
        cell_m=1.0, ride=np.array([[0.0, -30.0], [0.0, 10.0]]),
    )  # fmt: skip
    # The aircraft gets to y = 7: the foot just beyond the face is hypot(28.5, 53) away.
    assert found.limit == pytest.approx(96.0, abs=0.5)
    assert found.value == pytest.approx(np.hypot(28.5, 53.0) - HALF_SPAN_M, abs=1.5)
    assert found.verdict == Verdict.CAUTION


def test_ground_not_known_under_people_is_unknown_only_where_it_counts(tmp_path: Path) -> None:
    def torn(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.where(x < -60.0, np.nan, 84.0 + 0.0 * y)

    point = area(worlds.point(-80.0, 0.0))
    both = [
        asked(tmp_path / f"{i}", rule(30.0, one_to_one=i), features=[point], terrain=torn)
        for i in (True, False)
    ]
    assert [f.verdict for f in both] == [Verdict.UNKNOWN, Verdict.GO]
    assert "not known" in both[0].reason


def test_without_a_rule_it_says_so_and_cautions_inside_the_own_margin(tmp_path: Path) -> None:
    near = asked(tmp_path / "a", None, features=[area(worlds.point(-13.5, 0.0))])
    far = asked(tmp_path / "b", None, features=[area(worlds.point(-20.0, 0.0))])
    assert (near.verdict, far.verdict) == (Verdict.CAUTION, Verdict.GO)
    assert near.value == pytest.approx(1.5 - HALF_SPAN_M, abs=0.02)
    for found in (near, far):
        assert any("has no distance to people" in r.text for r in found.remarks)


def test_nobody_looked_is_unknown_and_a_hit_stays_a_hit(tmp_path: Path) -> None:
    blank = {"survey": {"looked_for": ["trees", "buildings", "wires"]}}
    empty = asked(tmp_path / "a", rule(), site=blank)
    assert empty.verdict == Verdict.UNKNOWN
    assert "nobody looked for people" in empty.reason
    assert "30.0 m" in empty.advice
    far = asked(tmp_path / "b", rule(), features=[area(worlds.point(-80.0, 0.0))], site=blank)
    assert far.verdict == Verdict.UNKNOWN
    hit = asked(tmp_path / "c", rule(), features=[area(worlds.point(-20.0, 0.0))], site=blank)
    assert hit.verdict == Verdict.NO_GO


def test_looked_for_and_none_drawn_is_go_and_says_so(tmp_path: Path) -> None:
    found = asked(tmp_path, rule())
    assert (found.verdict, found.value) == (Verdict.GO, None)
    assert found.reason == "people were looked for, and no place is drawn"


def test_closed_is_a_remark(tmp_path: Path) -> None:
    found = asked(tmp_path, rule(), features=[crossing(state="closed")])
    assert found.verdict == Verdict.GO
    assert [r.text for r in found.remarks] == [
        "path is said to be closed; it comes to 0.0 m of it: keep it closed all the time"
    ]


def held_site(**cy: Any) -> dict[str, Any]:
    cy = {"name": "Cy", "role": "spotter", "stands": "post", **cy}
    return {"crew": [*worlds.SITE["crew"], {k: v for k, v in cy.items() if v is not None}]}


POST = worlds.place("post", east_m=0.0, north_m=-20.0)


@pytest.mark.parametrize(
    ("wall_m", "word", "says"),
    [
        (15.0, Verdict.NO_GO, "counts as if anybody may pass"),
        (40.0, Verdict.CAUTION, "enough for walkers only"),
        (60.0, Verdict.CAUTION, "enough for walkers and runners only"),
        (100.0, Verdict.GO, "Cy calls walkers 42 m, runners 61 m and bicycles 93 m"),
    ],
)
def test_a_path_is_held_by_who_sees_far_enough(
    tmp_path: Path, wall_m: float, word: Verdict, says: str
) -> None:
    # A house across the path, `wall_m` east of the middle, 5 m high: what is behind is not seen.
    ring = worlds.box(wall_m, -60.0, wall_m + 2.0, 60.0)
    house = worlds.feature("house", "building", worlds.polygon(ring), height_m=5.0)
    path = crossing(state="held", held_by="Cy")
    found = asked(tmp_path, rule(0.0), features=[path, house, POST], site=held_site())
    assert found.verdict == word
    (remark,) = found.remarks
    assert says in remark.text
    if word != Verdict.GO:
        sees = float(remark.text.split("sees only ")[1].split(" m")[0])
        assert sees == pytest.approx(wall_m - TRACK_X_M, abs=3.5)


@pytest.mark.parametrize(
    ("cy", "says"),
    [
        ({"stands": None}, "where Cy stands is not said"),
        ({"role": "rider"}, "Cy rides, and cannot hold it"),
    ],
)
def test_who_cannot_hold_it_makes_it_may_pass(
    tmp_path: Path, cy: dict[str, Any], says: str
) -> None:
    path = crossing(state="held", held_by="Cy")
    found = asked(tmp_path, rule(0.0), features=[path, POST], site=held_site(**cy))
    assert found.verdict == Verdict.NO_GO
    assert says in found.advice
    assert any(says in r.text for r in found.remarks)


@pytest.mark.parametrize(("half_m", "word"), [(300.0, Verdict.NO_GO), (20.0, Verdict.GO)])
def test_a_path_that_leads_out_of_what_was_looked_at_is_not_held(
    tmp_path: Path, half_m: float, word: Verdict
) -> None:
    looked = worlds.feature(
        "seen", "surveyed", worlds.polygon(worlds.box(-40.0, -150.0, 25.0, 150.0))
    )
    path = crossing(half_m, state="held", held_by="Cy")
    found = asked(tmp_path, rule(0.0), features=[path, POST, looked], site=held_site())
    assert found.verdict == word
    if word == Verdict.NO_GO:
        assert "nobody looked for people beyond" in found.advice


def test_held_but_far_away_needs_nobody(tmp_path: Path) -> None:
    path = area(worlds.point(-90.0, 0.0), state="held", held_by="Cy")
    found = asked(tmp_path, rule(30.0), features=[path, POST], site=held_site())
    assert found.verdict == Verdict.GO
    assert "would do without" in found.remarks[0].text


def test_other_peoples_things_keep_their_own_distance(tmp_path: Path) -> None:
    house = worlds.feature(
        "house", "building", worlds.polygon(worlds.box(-60.0, 0.0, -37.0, 10.0)), height_m=4.0
    )
    pole = worlds.feature("mast", "pole", worlds.point(20.0, 0.0), height_m=9.0, radius_m=1.0)
    both = rule(30.0, objects_m=30.0, objects_source=SOURCE)
    found = asked(tmp_path / "a", both, features=[house, pole])
    assert (found.verdict, found.family, found.thing) == (Verdict.NO_GO, "rule", "house")
    assert found.value == pytest.approx(25.0 - HALF_SPAN_M, abs=0.01)
    assert found.advice == "fly 5.5 m farther from house there"
    only = dataclasses.replace(both, objects=("pole",))
    found = asked(tmp_path / "b", only, features=[house, pole])
    assert found.verdict == Verdict.GO
    blank = {"survey": {"looked_for": ["people", "buildings"]}}
    assert asked(tmp_path / "c", only, site=blank).verdict == Verdict.UNKNOWN


@settings(max_examples=5, deadline=None)
@given(
    east_m=st.floats(-120.0, 60.0), north_m=st.floats(-150.0, 150.0), error_m=st.floats(0.0, 20.0)
)
def test_less_certain_is_never_farther(east_m: float, north_m: float, error_m: float) -> None:
    with tempfile.TemporaryDirectory() as name:
        margins = [
            asked(
                Path(name) / f"{e}",
                rule(),
                features=[area(worlds.point(east_m, north_m), error_m=e)],
            ).margin
            for e in (0.0, error_m)
        ]
    assert margins[0] is not None
    assert margins[1] is not None
    assert margins[1] == pytest.approx(margins[0] - error_m, abs=1e-6)
