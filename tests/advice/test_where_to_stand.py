"""Where to stand: what is proposed holds what the checks ask, and really sees what it claims."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shotplan import plan
from shotplan.advice import standing_field, standing_ground, watching_flight
from shotplan.advice.vantage import CROWDED, DOUBT, ROLES, WEIGHTS, Role, Vantage, Vantages
from shotplan.advice.vantage_points import Search
from shotplan.advice.where_to_stand import where_to_stand
from shotplan.checks import crew, fall, sight
from shotplan.errors import BadInput
from shotplan.flying import stage_scene
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing, read
from shotplan.scene import eyesight
from tests import worlds
from tests.stories import independent as second
from tests.stories.independent import craft_of
from tests.stories.test_independent import abeam, on_ground

EVENING = {"start": worlds.SITE["start"].replace(hour=19)}
GRAZES_M = 0.01  # a ray that passes this near to something may be cut or not
ANYWHERE = {"rules": "nz-part101"}


def every(found: Vantages) -> list[Vantage]:
    return [v for role in ROLES for v in found.proposals[role]]


def searched(outing: Outing) -> Search:
    """The flight of an outing, to ask about eyes anywhere."""
    scenes = tuple(stage_scene(outing, s, outing.day.start).first for s in outing.shots)
    flight = watching_flight.flight_of(scenes)
    field = standing_field.Field(outing=outing, scenes=scenes)
    return Search(field=field, flight=flight, rough=flight.thinned(20))


@pytest.fixture(scope="module")
def heath(tmp_path_factory: pytest.TempPathFactory) -> Vantages:
    """Open, level ground; a path crosses, an oak stands, a pond lies beside the ride."""
    features = [
        worlds.feature("path", "people", worlds.line([(60.0, -300.0), (60.0, 300.0)])),
        worlds.tree("oak", east_m=25.0, north_m=8.0, height_m=12.0, radius_m=5.0),
        worlds.feature("pond", "water", worlds.polygon(worlds.box(10.0, -60.0, 50.0, -20.0))),
        worlds.feature(
            "yard", "keep-out", worlds.polygon(worlds.box(10.0, 30.0, 50.0, 60.0)), reason="bees"
        ),
    ]
    folder = worlds.write_site(tmp_path_factory.mktemp("heath"), features=features)
    return where_to_stand(read(folder))


def test_three_places_a_role_apart_and_best_first(heath: Vantages) -> None:
    for role in ROLES:
        found = heath.proposals[role]
        assert [v.number for v in found] == [1, 2, 3]
        away = [
            np.hypot(*(a.xyz_m - b.xyz_m)[:2]) for a in found for b in found if a.number < b.number
        ]
        assert min(away) >= (20.0 if role != "spotter" else 10.0)
        if role != "spotter":
            assert [v.score for v in found] == sorted((v.score for v in found), reverse=True)


def test_a_score_is_what_its_weights_say(heath: Vantages) -> None:
    for role, weights in WEIGHTS.items():
        assert sum(weights.values()) == pytest.approx(1.0), role
    for v in every(heath):
        assert set(v.terms) == set(WEIGHTS[v.role])
        assert all(0.0 <= t <= 1.0 for t in v.terms.values())
        told = sum(WEIGHTS[v.role][name] * value for name, value in v.terms.items())
        assert v.score == pytest.approx(told - DOUBT * len(v.doubts))
        assert v.terms["seen"] == pytest.approx(v.watched.seen)


def test_nobody_is_sent_onto_the_ride_the_path_the_pond_or_the_yard(heath: Vantages) -> None:
    for v in every(heath):
        east, north = v.xyz_m[:2]
        launch = v.role == "launch"
        assert v.against == ()
        assert np.hypot(east, max(abs(north) - 100.0, 0.0)) >= (5.0 if launch else 3.0)
        assert abs(east - 60.0) >= (5.0 if launch else 2.0)
        assert not (10.0 <= east <= 50.0 and (-60.0 <= north <= -20.0 or 30.0 <= north <= 60.0))
        # 5 m of crown, grown by the map's error of 1 m (a drawn ride has none); and the room.
        assert np.hypot(east - 25.0, north - 8.0) >= 6.0 + (5.0 if launch else 1.0) - 0.1


def test_the_share_is_that_of_every_sample(heath: Vantages) -> None:
    outing = heath.outing
    for v in (heath.proposals["pilot"][0], heath.proposals["launch"][0]):
        eye = v.xyz_m + np.array([0.0, 0.0, 1.6])
        seen = []
        for shot in outing.shots:
            scene = stage_scene(outing, shot, outing.day.start).first
            looked = eyesight.view(scene, np.broadcast_to(eye, scene.track.xyz_m.shape).copy())
            near = looked.slant_m <= eyesight.range_m(scene)[0]
            seen.append((near & np.isinf(looked.cut_m) & ~looked.unknown)[0])
        assert v.watched.seen == pytest.approx(np.concatenate(seen).mean(), abs=1e-12)
        assert v.watched.by_shot == pytest.approx([s.mean() for s in seen], abs=1e-12)


def test_the_checks_agree_with_what_is_proposed(heath: Vantages, tmp_path: Path) -> None:
    launch, pilot, spotter = (heath.proposals[role][0] for role in ROLES)
    outing = read(
        worlds.write_site(
            tmp_path,
            without=["launch"],
            features=[
                worlds.feature("path", "people", worlds.line([(60.0, -300.0), (60.0, 300.0)])),
                worlds.place("launch", east_m=launch.xyz_m[0], north_m=launch.xyz_m[1]),
                worlds.place("stand", east_m=pilot.xyz_m[0], north_m=pilot.xyz_m[1]),
                worlds.place("second", east_m=spotter.xyz_m[0], north_m=spotter.xyz_m[1]),
            ],
            site={
                "crew": [
                    {"name": "Ada", "role": "rider"},
                    {"name": "Bo", "role": "pilot", "stands": "stand"},
                    {"name": "Cy", "role": "spotter", "stands": "second"},
                ]
            },
        )
    )
    scene = stage_scene(outing, outing.shots[0], outing.day.start)
    found = plan.findings(scene, (crew.CHECK, fall.CHECK, sight.CHECK))
    assert {f.check: f.verdict for f in found} == dict.fromkeys(
        ("crew", "fall", "sight"), Verdict.GO
    )


def test_an_observer_who_must_be_alongside_is_beside_a_pilot(heath: Vantages) -> None:
    assert heath.outing.rules.crew is not None
    assert heath.outing.rules.crew.observer == "alongside"
    for spotter in heath.proposals["spotter"]:
        pilot = heath.proposals["pilot"][spotter.beside - 1]
        assert np.hypot(*(spotter.xyz_m - pilot.xyz_m)[:2]) <= eyesight.ALONGSIDE_M
        assert spotter.together >= max(spotter.watched.seen, pilot.watched.seen)
    assert any("stands within 5 m of the pilot" in line for line in heath.notes)


def test_the_pilot_sees_the_launch_and_stands_near_it(heath: Vantages) -> None:
    launch = heath.proposals["launch"][0]
    assert heath.proposals["pilot"][0].launch_m < 60.0
    for v in heath.proposals["pilot"]:
        assert v.launch_m == pytest.approx(np.hypot(*(v.xyz_m - launch.xyz_m)[:2]))


def test_where_they_stand_now_is_told_beside_it(heath: Vantages) -> None:
    now = {(v.role, v.place): v for v in heath.now}
    assert set(now) == {("launch", "launch"), ("pilot", "launch")}
    assert now["pilot", "launch"].who == ("Bo",)
    assert now["pilot", "launch"].xyz_m[:2] == pytest.approx([30.0, 0.0], abs=0.01)
    # The oak's crown, with its error, is 3.4 m from the launch.
    (why,) = now["launch", "launch"].against
    assert why.startswith("trees, buildings or poles within 5 m")


def test_a_spotter_who_may_be_anywhere_sees_what_the_pilot_cannot(tmp_path: Path) -> None:
    """A long wood between the two halves of a ride of 600 m hides each from the other's middle."""
    ride = np.array([(0.0, -300.0), (0.0, 300.0)])
    wood = worlds.feature(
        "wood", "wood", worlds.polygon(worlds.box(-200.0, -8.0, 200.0, 8.0)), height_m=25.0
    )
    site = {**ANYWHERE, "shot": [{**worlds.SIDE_TRACK, "height_m": 30.0}]}
    outing = read(worlds.write_site(tmp_path, ride=ride, features=[wood], site=site))
    assert outing.rules.crew is None or outing.rules.crew.observer == "anywhere"
    found = where_to_stand(outing)
    pilot, spotter = found.proposals["pilot"][0], found.proposals["spotter"][0]
    assert spotter.beside == 0
    assert pilot.watched.seen < 0.75
    assert np.sign(spotter.xyz_m[1]) != np.sign(pilot.xyz_m[1])
    assert spotter.together > pilot.watched.seen + 0.2


def test_nobody_is_sent_to_an_edge_or_down_a_cliff(tmp_path: Path) -> None:
    def ground(x: Array, _y: Array) -> Array:
        return worlds.GROUND_M - np.where(x > 45.0, 40.0, 0.0)

    folder = worlds.write_site(tmp_path, terrain=ground, cell_m=2.0)
    found = where_to_stand(read(folder))
    assert all(len(found.proposals[role]) == 3 for role in ROLES)
    for v in every(found):
        assert v.ground is not None
        assert v.xyz_m[0] <= 45.0 - 5.0 + 2.0  # the face is one cell wide
        assert v.ground.drop_m >= 5.0
    assert dict(found.ruled_out["pilot"])["no way there on foot"] > 100


def test_a_rider_who_steers_is_told_from_where_they_ride(tmp_path: Path) -> None:
    site = {"crew": [{"name": "Ada", "role": ["rider", "pilot"]}]}
    found = where_to_stand(read(worlds.write_site(tmp_path, site=site)))
    (rides,) = [v for v in found.now if v.role == "pilot"]
    assert rides.ground is None
    assert rides.watched.seen == 1.0
    # 12 m to the side and 6 m over the rider, whose eye is 1.6 m up; and some way behind, late.
    assert math.hypot(12.0, 4.4) - 0.01 <= rides.watched.nearest_m < math.hypot(12.0, 4.4, 6.0)
    assert len(found.proposals["pilot"]) == 3


def test_a_wind_that_is_not_known_is_said(tmp_path: Path) -> None:
    site = {"weather": {"wind_m_s": None, "wind_from_deg": None, "gust_m_s": None}}
    found = where_to_stand(read(worlds.write_site(tmp_path, site=site)))
    assert any("the wind is not known" in line for line in found.notes)
    assert all(v.watched.wind is None for v in every(found))
    assert {v.terms["wind"] for v in every(found)} == {0.5}


def test_a_gust_that_is_not_known_is_a_doubt_where_it_matters(tmp_path: Path) -> None:
    site = {"weather": {"gust_m_s": None, "wind_from_deg": 270.0}}
    field = searched(read(worlds.write_site(tmp_path, site=site))).field
    east = np.arange(-40.0, 0.0, 0.5)  # it flies 12 m west of the ride, and is blown to the east
    points = standing_field.points_of(field, np.column_stack([east, np.zeros(len(east))]))
    ground = standing_ground.ground_of(field, points)
    told = np.array([bool(standing_ground.doubts(k, ground, ())) for k in range(len(east))])
    still = ground.fall_m < standing_ground.FALL_M
    assert still.any()
    assert told.any()
    assert not (told & still).any()
    assert east[told].min() > east[still].max()


def test_no_shot_is_a_problem(tmp_path: Path) -> None:
    folder = worlds.write_site(tmp_path, site={"shot": None})
    with pytest.raises(BadInput, match="shot"):
        where_to_stand(read(folder))


def test_where_there_is_no_room_it_says_what_ruled_it_out(tmp_path: Path) -> None:
    everybody = worlds.feature(
        "meadow", "people", worlds.polygon(worlds.box(-520.0, -520.0, 520.0, 520.0))
    )
    found = where_to_stand(read(worlds.write_site(tmp_path, features=[everybody])))
    assert every(found) == []
    for role in ("launch", "pilot"):
        (reason, count), *_ = found.ruled_out[role]
        assert reason == "where other people may be"
        assert 0 < count <= found.tried[role]


# -- what an eye sees


@pytest.fixture(scope="module")
def open_search(tmp_path_factory: pytest.TempPathFactory) -> Search:
    folder = tmp_path_factory.mktemp("open")
    return searched(read(worlds.write_site(folder, site=EVENING)))


def test_on_open_ground_only_the_distance_counts(open_search: Search) -> None:
    flight = open_search.flight
    # EASA Guidelines, Issue 03: 327 times the span, and 20 m (second hand).
    span_m = open_search.field.outing.aircraft.span_m
    assert flight.limit_m == pytest.approx(327.0 * span_m + 20.0)
    eyes = np.array([(e, n, worlds.GROUND_M + 1.6) for e in (-80.0, 40.0) for n in (-150.0, 0.0)])
    seen = watching_flight.seen_from(flight, eyes)
    for row, eye in zip(seen.seen, eyes, strict=True):
        away = np.linalg.norm(flight.xyz_m - eye, axis=1)
        assert (row == (away <= flight.limit_m)).all()


@pytest.mark.parametrize(
    ("east_m", "north_m", "where"),
    [(-400.0, 0.0, 0), (400.0, 0.0, 2), (0.0, 400.0, 1), (0.0, -400.0, 1)],
)
def test_upwind_is_where_the_wind_comes_from(
    tmp_path: Path, east_m: float, north_m: float, where: int
) -> None:
    site = {"weather": {"wind_from_deg": 270.0}}  # from the west: who stands west is upwind
    flight = searched(read(worlds.write_site(tmp_path, site=site))).flight
    shares = watching_flight.wind_shares(flight, np.array([[east_m, north_m, worlds.GROUND_M]]))
    assert shares[0, where] == pytest.approx(1.0)
    assert shares.sum() == pytest.approx(1.0)


def test_who_looks_toward_the_sun_is_dazzled(open_search: Search) -> None:
    flight = open_search.flight
    toward = flight.toward_sun[len(flight.toward_sun) // 2]
    middle = flight.xyz_m[len(flight.xyz_m) // 2]
    away = middle - 60.0 * toward
    eyes = np.stack([away, middle + 60.0 * np.array([toward[0], toward[1], 0.0])])
    eyes[:, 2] = worlds.GROUND_M + 1.6
    sun = watching_flight.sun_shares(flight, eyes)
    way = flight.xyz_m - eyes[0]
    angle = np.degrees(
        np.arccos((way * flight.toward_sun).sum(axis=1) / np.linalg.norm(way, axis=1))
    )
    assert sun.glare[0] == pytest.approx((angle < 25.0).mean())
    assert sun.near[0] == pytest.approx(((angle >= 25.0) & (angle < 50.0)).mean())
    assert sun.glare[0] + sun.near[0] > 0.0
    assert sun.glare[1] == 0.0  # with the sun behind


def test_ground_that_is_not_known_is_never_looked_across(tmp_path: Path) -> None:
    def ground(x: Array, _y: Array) -> Array:
        return np.where((x > 20.0) & (x < 40.0), np.nan, worlds.GROUND_M)

    flight = searched(read(worlds.write_site(tmp_path, terrain=ground))).flight
    eyes = np.array([(80.0, 0.0, worlds.GROUND_M + 1.6), (-40.0, 0.0, worlds.GROUND_M + 1.6)])
    found = watching_flight.seen_from(flight, eyes)
    assert not found.seen[0].any()
    assert (found.unknown[0] == (found.slant_m[0] <= flight.limit_m)).all()
    assert found.unknown[0].mean() > 0.9
    assert found.seen[1].any()
    assert not found.unknown[1].any()


# -- the rim, a second way


def columns_of(
    folder: Path, ground: second.Ground, rider: second.Motion, times: Array, frame: Any
) -> list[second.Body]:
    """The trees of the rim as drawn, those described from the ride too."""
    site = tomllib.loads((folder / "site.toml").read_text("utf-8"))
    found: list[second.Body] = []
    for name, feature in second.read_features(folder).items():
        says = feature["properties"]
        if says["role"] == "tree":
            at = on_ground(ground, second.in_frame(frame, feature["geometry"]["coordinates"]))
            on = second.Feet(float(at[2]), float(at[2]))
            found += second.tree_columns(name, says, at[:2], on, 0.0, 0.0)
    for says in site["beside"]:
        at = on_ground(ground, abeam(times, rider, says["at_m"], says["right_m"]))
        on = second.Feet(float(at[2]), float(at[2]))
        found += second.tree_columns("beside", says, at[:2], on, 0.0, 0.0)
    return found


def marched(
    ground: second.Ground, trees: Sequence[second.Body], eye: Array, flown: Array, limit_m: float
) -> tuple[int, int]:
    """Samples surely seen, and those that pass so near to something that they may be or not."""
    sure = grazing = 0
    for here in flown:
        away = float(np.linalg.norm(here - eye))
        room = second.ray_room_m(ground, trees, eye, here) if away <= limit_m + GRAZES_M else -1.0
        inside_a_crown = room == -1e-9  # as `ray_room_m` says it: surely cut
        near = abs(room) <= GRAZES_M and not inside_a_crown
        grazing += near or abs(away - limit_m) <= GRAZES_M
        sure += room > GRAZES_M and away <= limit_m - GRAZES_M
    return sure, grazing


@pytest.mark.real
def test_the_first_proposals_on_the_rim_see_the_share_they_claim(real: Path) -> None:
    folder = real / "sites" / "rim"
    outing = read(folder)
    found = where_to_stand(outing)
    frame = second.frame_about(second.read_features(folder))
    ground = second.read_ground(folder / "terrain.tif", frame)
    times = outing.ride.t_s
    rider = second.moving(times, np.array(outing.ride.xyz_m[0, :, :2]))
    trees = columns_of(folder, ground, rider, times, frame)
    text = (Path(plan.__file__).parent / "aircraft/classes/folding-light.toml").read_text("utf-8")
    limit_m = min(327.0 * tomllib.loads(text)["span_m"] + 20.0, 0.3 * 5000.0)
    assert craft_of("folding-light").speed_m_s == outing.aircraft.max_speed_m_s
    shots = [stage_scene(outing, s, outing.day.start).first for s in outing.shots]
    flown = np.concatenate([s.track.xyz_m[0] for s in shots])
    roles: tuple[Role, ...] = ("launch", "pilot")
    for role in roles:
        first = found.proposals[role][0]
        eye = on_ground(ground, first.xyz_m[:2]) + np.array([0.0, 0.0, 1.6])
        sure, grazing = marched(ground, trees, eye, flown, limit_m)
        assert grazing < 0.02 * len(flown)
        claimed = first.watched.seen * len(flown)
        assert sure - 0.5 <= claimed <= sure + grazing + 0.5, role
        assert first.watched.seen > 0.9


def test_a_launch_beside_a_tree_is_worth_less_than_the_same_in_the_open(tmp_path: Path) -> None:
    """The crown's edge, grown by the map's error of 1 m, is 0.7 m from the launch."""
    oak = worlds.tree("oak", east_m=33.7, north_m=0.0, height_m=3.0, radius_m=2.0)

    def launch(name: str, *features: dict[str, Any]) -> Vantage:
        found = where_to_stand(read(worlds.write_site(tmp_path / name, features=features)))
        return next(v for v in found.now if v.role == "launch")

    free, beside = launch("free"), launch("beside", oak)
    assert beside.ground is not None
    assert beside.ground.obstacle_m == pytest.approx(0.7, abs=0.15)
    terms = sum(WEIGHTS["launch"][name] * value for name, value in beside.terms.items())
    cost = CROWDED * (1.0 - beside.ground.obstacle_m / standing_ground.CLEAR_M["launch"])
    assert beside.score == pytest.approx(terms - cost - DOUBT * len(beside.doubts))
    assert cost > 0.2
    assert free.score - beside.score > cost
    assert any("within 5 m" in reason for reason in beside.against)
