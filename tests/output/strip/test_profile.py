"""The side view: its numbers against other ways to get them, its picture the same bytes."""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image

from shotplan.checks import ground
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.solids import columns, prisms
from shotplan.model.flight import Wish
from shotplan.model.obstacles import Bodies
from shotplan.model.verdict import Verdict
from shotplan.output import words
from shotplan.output.strip import profile
from shotplan.output.strip import profile_marks as marks
from shotplan.output.strip.side_view import NEAR_M, Standing, ceiling_m, side_view
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan


@pytest.fixture(scope="module")
def hills() -> Plan:
    """The made plan over hills, with its trees, its hut and its wire as bodies."""
    return bodied(made_plan(hilly=True))


def bodied(plan: Plan) -> Plan:
    """The made plan has things but no bodies: here are those of its trees and its hut."""
    outing = plan.outing
    obstacles = outing.site.obstacles
    trees = [(i, t) for i, t in enumerate(obstacles.things) if t.role == "tree"]
    ground = outing.site.terrain.ground_m(np.stack([t.where_m[0] for _, t in trees]))
    high = np.array([t.height_m for _, t in trees])
    wide = np.array([t.radius_m for _, t in trees])
    posts = columns.Columns(np.stack([t.where_m[0] for _, t in trees]), wide, ground, ground + high)
    (hut,) = (i for i, t in enumerate(obstacles.things) if t.role == "building")
    a, b, c, d = obstacles.things[hut].where_m
    walls = prisms.Prisms(
        np.array([[a, b, c], [a, c, d]]), np.zeros(2), np.full(2, 80.0), np.full(2, 90.0)
    )
    made = Bodies(
        columns=posts, column_thing=np.array([i for i, _ in trees]),
        prisms=walls, prism_thing=np.array([hut, hut]),
        doubtful=obstacles.rest_drawn.doubtful, doubtful_thing=obstacles.rest_drawn.doubtful_thing,
    )  # fmt: skip
    site = replace(outing.site, obstacles=replace(obstacles, rest_drawn=made))
    return replace(
        plan,
        outing=replace(outing, site=site),
        shots=tuple(replace(s, scene=replace(s.scene, site=site)) for s in plan.shots),
    )


def moved(shot: ShotPlan, **changes: Any) -> ShotPlan:
    """The same shot with other arrays in its track."""
    return replace(shot, scene=replace(shot.scene, track=replace(shot.scene.track, **changes)))


def test_the_same_plan_gives_the_same_picture_of_all_its_shots(hills: Plan) -> None:
    (name, data), *rest = profile.output(hills).items()
    assert (name, rest) == ("profile.png", [])
    assert data == profile.png(hills)
    assert Image.open(io.BytesIO(data)).width == 780  # a phone's 390 pixels of a page, two each
    assert len(data) < 150_000


def test_a_panel_alone_is_that_of_the_whole(hills: Plan) -> None:
    alone = Image.open(io.BytesIO(profile.of_shot(hills.shots[1], "B"))).convert("RGB")
    whole = Image.open(io.BytesIO(profile.png(hills))).convert("RGB")
    part = whole.crop((0, alone.height, 780, 2 * alone.height))
    off = np.abs(np.asarray(alone).astype(int) - np.asarray(part))
    assert np.percentile(off, 99.0) < 12  # each has its own few colours


def test_the_ceiling_is_where_the_nearest_ground_is_as_far_as_the_pack_allows(
    hills: Plan,
) -> None:
    """Against brute force: the lowest of many heights straight above at which the distance to a
    fine net of ground points reaches the limit."""
    shot = hills.shots[0]
    limit_m = 40.0  # low enough for the hills to matter
    rules = replace(shot.scene.rules, height=replace(shot.scene.rules.height, limit_m=limit_m))
    shot = replace(shot, scene=replace(shot.scene, rules=rules))
    kept = np.array([40, 200, 330])
    found = ceiling_m(shot, kept)
    step_m = 0.25
    for at, ceiling in zip(kept, found, strict=True):
        x, y, z = shot.scene.track.xyz_m[0, at]
        net = np.arange(-limit_m, limit_m, step_m)
        east, north = np.meshgrid(x + net, y + net)
        ground = shot.scene.site.terrain.ground_m(np.stack([east, north], axis=-1))
        level2 = (east - x) ** 2 + (north - y) ** 2
        heights = z + np.arange(0.0, limit_m + 20.0, 0.1)
        away = np.array([math.sqrt(np.nanmin(level2 + (h - ground) ** 2)) for h in heights])
        first = heights[np.argmax(away >= limit_m)]
        # A net of 0.25 m sees the nearest point at most 0.18 m off to the side; heights step 0.1 m.
        assert ceiling == pytest.approx(first, abs=0.15)
        assert ceiling <= side_view(shot).straight_m.max() + 1e-6


def test_the_two_ceilings_agree_over_level_ground() -> None:
    view = side_view(made_plan().shots[0])
    np.testing.assert_allclose(view.nearest_m, view.straight_m, atol=1e-6)
    np.testing.assert_allclose(view.straight_m, 84.0 + 120.0)


def test_heights_are_those_of_the_samples_and_left_out_ones_count_at_their_worst(
    hills: Plan,
) -> None:
    shot = hills.shots[0]
    view = side_view(shot)
    scene = shot.scene
    assert (np.diff(view.x) >= 0.0).all()
    assert (view.x[0], view.x[-1]) == (
        scene.track.ride.along_m[0, 0],
        scene.track.ride.along_m[0, -1],
    )
    np.testing.assert_array_equal(view.flown_m, scene.track.xyz_m[0, view.sample, 2])
    np.testing.assert_array_equal(view.rider_m, scene.track.ride.xyz_m[0, view.sample, 2])
    ends = np.append(view.sample[1:], len(scene.ground_m[0]))
    for i, (first, past) in enumerate(zip(view.sample, ends, strict=True)):
        ground = scene.ground_m[0, first:past]
        assert np.isnan(view.ground_m[i]) == np.isnan(ground).any()
        assert np.isnan(view.ground_m[i]) or view.ground_m[i] == ground.max()
        assert view.code[i] == shot.sample_verdict[first:past].max()


def test_a_word_of_one_sample_is_not_lost() -> None:
    shot = made_plan().shots[0]
    codes = np.zeros_like(shot.sample_verdict)
    codes[137] = int(Verdict.NO_GO)
    view = side_view(replace(shot, sample_verdict=codes))
    assert (view.code == int(Verdict.NO_GO)).sum() == 1


def abeam(plan: Plan, shot: ShotPlan) -> dict[str, float]:
    """Thing -> least level distance, of the trees that stand abeam of a straight flight."""
    way = shot.scene.track.xyz_m[0, :, :2]
    ahead = (way[-1] - way[0]) / np.linalg.norm(way[-1] - way[0])
    found = {}
    for thing in plan.outing.site.obstacles.things:
        if thing.role != "tree":
            continue
        along = (thing.where_m[0] - way) @ ahead
        away = np.linalg.norm(thing.where_m[0] - way, axis=1) - thing.radius_m
        passed = along[0] >= -thing.radius_m and along[-1] <= thing.radius_m
        if passed and away.min() <= NEAR_M:
            found[thing.label] = max(float(away.min()), 0.0)
    return found


def test_what_stands_abeam_is_there_with_its_top_and_its_distance(hills: Plan) -> None:
    shot = hills.shots[0]
    wanted = abeam(hills, shot)
    assert len(wanted) >= 7
    view = side_view(shot)
    seen = {one.label: one for one in view.standing}
    assert seen.keys() == wanted.keys()
    things = {t.label: t for t in hills.outing.site.obstacles.things}
    for label, one in seen.items():
        thing, there = things[label], np.flatnonzero(~np.isnan(one.top_m))
        assert one.away_m == pytest.approx(wanted[label], abs=0.05)
        ground = float(hills.outing.site.terrain.ground_m(thing.where_m[0]))
        np.testing.assert_allclose(one.top_m[there], ground + thing.height_m)
        # As wide as its crown, and half a gap between samples more on each side; in one piece.
        assert (np.diff(there) == 1).all()
        wide = view.x[there[-1]] - view.x[there[0]]
        gap = float(np.diff(view.x).max())
        assert wide == pytest.approx(2.0 * thing.radius_m, abs=2.0 * gap)
        # The flight keeps 12 m to the left of the ride; the trees stand 14.5 to 21 m left of it.
        assert one.right_m < 0.0


def test_a_building_is_where_it_is_and_on_the_right_side(hills: Plan) -> None:
    """Flown north 10 m east of the hut: it stands left, for as long as it is."""
    shot = hills.shots[0]
    n = shot.scene.track.xyz_m.shape[1]
    xyz = np.zeros((1, n, 3))
    xyz[0] = np.stack([np.full(n, -96.0), np.linspace(-140.0, -70.0, n), np.full(n, 95.0)], axis=-1)
    velocity = np.zeros((1, n, 3))
    velocity[..., 1] = 5.0
    (hut,) = side_view(moved(shot, xyz_m=xyz, velocity_m_s=velocity)).standing
    assert hut.label == "peat hut"
    assert hut.away_m == pytest.approx(10.0)
    assert hut.right_m < 0.0
    view = side_view(moved(shot, xyz_m=xyz, velocity_m_s=velocity))
    north = xyz[0, view.sample[~np.isnan(view.standing[0].top_m)], 1]
    assert north.min() == pytest.approx(-110.0, abs=0.5)
    assert north.max() == pytest.approx(-102.0, abs=0.5)
    assert marks.called(hut) == "peat hut, 10 m left"


def test_where_the_aircraft_stands_still_everything_near_counts(hills: Plan) -> None:
    shot = hills.shots[0]
    still = np.zeros_like(shot.scene.track.velocity_m_s)
    xyz = np.broadcast_to(np.array([-96.0, -106.0, 95.0]), still.shape)
    (hut,) = side_view(moved(shot, xyz_m=xyz, velocity_m_s=still)).standing
    assert not np.isnan(hut.top_m).any()


def test_a_flight_that_keeps_its_own_clock_goes_by_seconds(hills: Plan) -> None:
    shot = hills.shots[0]
    track = shot.scene.track
    wish = Wish(camera_xyz_m=track.xyz_m, aim_xyz_m=track.xyz_m, follows_rider=False,
                aim_follows_rider=False, known=track.known)  # fmt: skip
    alone = replace(shot, scene=replace(shot.scene, wish=wish))
    view = side_view(alone)
    assert view.by_time
    assert (view.x[0], view.x[-1]) == (0.0, pytest.approx(shot.duration_s))
    _, named = profile._ticks(view, alone)
    assert named[0] == "0 s\n0 m"
    assert profile._ticks(side_view(shot), shot)[1][0] == "0 m\n0 s"


def test_all_that_is_drawn_has_room(hills: Plan) -> None:
    for shot in hills.shots:
        view = side_view(shot)
        low, high = profile.limits(view)
        assert low < np.nanmin(view.ground_m)
        assert high > view.flown_m.max() + 1.0


def test_a_thing_of_unknown_height_says_so() -> None:
    one = Standing("w", "wire", np.array([np.nan, 1.0]), np.array([np.nan, np.inf]), 1, 0.0, 0.0)
    assert marks.called(one) == "w, across its way, height not known"


def test_the_room_to_the_ceiling_that_counts_is_told() -> None:
    shot = made_plan().shots[0]
    # 6 m above level ground, 120 m allowed
    assert profile.ceiling(side_view(shot), shot) == "room to 120 m: 114 m"


def test_heights_are_said_to_be_drawn_taller_and_by_how_much(hills: Plan) -> None:
    shot = hills.shots[0]
    view = side_view(shot)
    said = profile.told(view, shot, profile.limits(view))
    (tall,) = re.findall(r"heights drawn ([\d.]+) times as tall", said)
    panel = Image.open(io.BytesIO(profile.of_shot(shot, "A")))
    low, high = profile.limits(view)
    up = (panel.height / 2.0 - profile.ABOVE - profile.BELOW) / (high - low)
    along = (panel.width / 2.0 - profile.LEFT - profile.RIGHT) / (view.x[-1] - view.x[0])
    assert float(tall) == pytest.approx(up / along, abs=0.06)


def test_what_must_be_kept_over_the_ground_is_the_limit_of_its_check(hills: Plan) -> None:
    shot = hills.shots[0]
    view = side_view(shot)
    assert np.isnan(profile.kept(view, shot)).all()  # nobody asked
    found = shot.finding("height")
    asked = replace(found, of=ground.CHECK, limits=np.full_like(found.limits, 3.7))
    wary = replace(shot, findings=(*shot.findings, asked))
    np.testing.assert_allclose(profile.kept(view, wary), 3.7)
    assert "keep 3.7 m over the ground" in profile.told(view, wary, (0.0, 10.0))


def test_a_display_is_read_to_half_metres() -> None:
    assert [marks.half_metres(v) for v in (6.3, 6.2, -0.1, -2.6)] == ["6.5", "6", "0", "−2.5"]


@pytest.mark.filterwarnings("error")
def test_hostile_names_are_text() -> None:
    named = bodied(made_plan(shot_name=EVERY, tree_name=EVERY))
    assert Image.open(io.BytesIO(profile.png(named))).width == 780
    assert words.plain(EVERY) != EVERY
