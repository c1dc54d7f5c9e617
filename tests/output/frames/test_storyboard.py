"""The storyboard: six telling moments a shot, what each frame shows and says, the same bytes."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from shotplan import plan as planning
from shotplan.aids import frame_view
from shotplan.aids.frame_setting import Kind, Setting
from shotplan.judging.judged import Plan, ShotPlan
from shotplan.kernels.light import camera
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.output import paper
from shotplan.output.frames import marks, preview, storyboard
from shotplan.output.frames import picture as frame_picture
from shotplan.output.frames.moments import Moment, moments
from shotplan.output.frames.shot_line import shot_line
from tests.output.hostile import EVERY
from tests.output.made_plan import made_plan
from tests.worlds import box, feature, line, polygon, tree, write_site


@pytest.fixture(scope="module")
def made() -> Plan:
    return made_plan(hilly=True)


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Beside a rider eastward: the camera 12 m to the north of him looks south."""
    folder = write_site(
        tmp_path_factory.mktemp("board") / "site",
        features=[
            tree("oak", east_m=0.0, north_m=-20.0, height_m=8.0, radius_m=2.0),
            feature("barn", "building", polygon(box(56.0, 5.0, 64.0, 7.0)), height_m=5.0),
            feature("cable", "wire", line([(-40.0, -30.0), (40.0, -30.0)]), height_m=9.0),
        ],
        ride=90.0,
    )
    return planning.make(read(folder), lambda _: None)


def setting(plan: Plan, shot: int = 0) -> Setting:
    return Setting(scene=plan.shots[shot].scene, path_m=plan.outing.ride.xyz_m[0])


def at(plan: Plan, along_m: float) -> int:
    return int(np.abs(plan.shots[0].scene.track.ride.along_m[0] - along_m).argmin())


def test_six_moments_in_order_with_start_end_and_the_tightest(made: Plan) -> None:
    for shot in made.shots:
        found = moments(shot)
        samples = [m.sample for m in found]
        assert len(set(samples)) == 6
        assert samples == sorted(samples)
        assert samples[0] == 0
        assert samples[-1] == shot.scene.track.ride.t_s.size - 1
    tight = next(m for m in moments(made.shots[0]) if "tightest: the leaning larch" in m.why)
    margins = made.shots[0].finding("clearance").margins
    assert margins[tight.sample] <= np.nanmin(margins) + 0.5


def test_where_nothing_moves_no_two_frames_are_wasted(made: Plan) -> None:
    shot = made.shots[0]
    ride = shot.scene.track.ride
    still, half = np.array(ride.xyz_m), ride.t_s.size // 2
    still[:, :half] = still[:, :1]
    xyz = np.array(shot.scene.track.xyz_m)
    xyz[:, :half] = xyz[:, :1]
    track = replace(shot.scene.track, xyz_m=xyz, ride=replace(ride, xyz_m=still))
    stands = replace(shot, scene=replace(shot.scene, track=track), findings=())
    evenly = [m.sample for m in moments(stands) if not m.why]
    assert sum(s < half for s in evenly) <= 1


def test_short_shots_have_fewer_frames(made: Plan) -> None:
    scene = made.shots[0].scene
    few = replace(scene, track=scene.track.part(slice(None), slice(0, 3)))
    shot = replace(made.shots[0], scene=few, findings=())
    assert [m.sample for m in moments(shot)] == [0, 1, 2]


def test_the_rider_stands_where_and_as_high_as_the_camera_kernel_says(flown: Plan) -> None:
    s = setting(flown)
    i = at(flown, 100.0)
    frame = frame_view.frame(s, i)
    shown = s.picture.place
    assert frame.rider.seen > 0.95
    aim = frame.view.rows * (0.5 - float(shown.up[i]))
    left, top, right, low = frame.rider.box
    assert top < aim < low
    assert 0.5 * (left + right) == pytest.approx(
        frame.view.cols * (0.5 + float(shown.right[i])), abs=2.0
    )
    away = np.linalg.norm(s.picture.target_m[i])
    # f h cos(elevation) / distance
    tall = camera.subject_px(frame.view.focal_px, 1.8, s.picture.target_m[i][None])[0]
    assert frame.rider.share == pytest.approx(float(tall) / frame.view.rows)
    # 12 m beside, 5 m over his aim, and 0.5 s of delay behind him at 6 m/s.
    assert away == pytest.approx(np.sqrt(12.0**2 + 5.0**2 + 3.0**2), abs=0.05)
    rows, _ = np.nonzero(frame.kind == Kind.RIDER)
    assert rows.max() - rows.min() == pytest.approx(float(tall), rel=0.1)


def test_riding_east_seen_from_the_north_goes_to_the_left(flown: Plan) -> None:
    shot = flown.shots[0]
    i = at(flown, 100.0)
    frame = frame_view.frame(setting(flown), i)
    course = float(shot.scene.track.ride.course_rad[0, i])
    azimuth = frame.view.azimuth_rad
    goes_right = np.sin(course - azimuth) > 0.0
    assert (frame.rider.heads[0] > 0.0) == goes_right
    said = storyboard.caption(shot, frame, Moment(i, ""), "A3")
    assert any(("right" if goes_right else "left") in w for w in said.lines[2])


def test_tree_wire_and_ground_are_seen_and_the_sky_over_them(flown: Plan) -> None:
    frame = frame_view.frame(setting(flown), at(flown, 100.0))
    names = {Kind(int(k)) for k in np.unique(frame.kind)}
    assert {Kind.GROUND, Kind.TRACK, Kind.RIDER, Kind.TREE} <= names
    assert Kind.UNKNOWN not in names
    crown = np.nonzero(frame.kind == Kind.TREE)
    things = flown.outing.site.obstacles.things
    assert {things[k].id for k in np.unique(frame.thing[crown])} == {"oak"}


def test_a_wall_between_hides_the_rider_and_is_named(flown: Plan) -> None:
    shot, s = flown.shots[0], setting(flown)
    scene = shot.scene
    behind = int(np.abs(scene.track.ride.xyz_m[0, :, 0] - 60.0).argmin())
    frame = frame_view.frame(s, behind)
    assert frame.rider.seen < 0.2
    said = storyboard.caption(shot, frame, Moment(behind, ""), "A4")
    assert "barn" in said.lines[2][0]


def test_the_sun_is_in_the_frame_where_its_direction_shows(flown: Plan) -> None:
    scene = flown.shots[0].scene
    i = at(flown, 100.0)
    azimuth = np.full_like(scene.track.camera_azimuth_rad, float(scene.sun_rad[0][i]))
    tilt = np.full_like(azimuth, float(scene.sun_rad[1][i]) - 0.1)
    cam = replace(scene.aircraft.camera, tilt_max_rad=1.5)
    turned = replace(
        scene, aircraft=replace(scene.aircraft, camera=cam),
        track=replace(scene.track, camera_azimuth_rad=azimuth, camera_elevation_rad=tilt),
    )  # fmt: skip
    sun = frame_view.frame(Setting(scene=turned, path_m=flown.outing.ride.xyz_m[0]), i, 320).sun
    focal = camera.focal_px(320, cam.horizontal_fov_rad)
    assert sun.up
    assert sun.ahead
    assert sun.free
    assert sun.at[0] == pytest.approx(160.0, abs=0.5)
    assert sun.at[1] == pytest.approx(90.0 - focal * np.tan(0.1), abs=0.5)


def test_shade_lies_on_the_side_away_from_the_sun(flown: Plan) -> None:
    scene = flown.shots[0].scene
    i = at(flown, 100.0)
    frame = frame_view.frame(setting(flown), i)
    toward = scene.toward_sun[i]
    rider = scene.track.ride.xyz_m[0, i]
    on_ground = np.isin(frame.kind, (Kind.GROUND, Kind.TRACK))
    off = frame.at_m[..., :2] - rider[:2]
    near = on_ground & (np.hypot(off[..., 0], off[..., 1]) < 3.0)
    dark = near & (frame.light < 0.7)
    assert dark.sum() > 20
    assert (off[dark] @ toward[:2]).mean() < -0.2
    farthest = np.hypot(*off[dark].T).max()
    # A shadow is as long as its height over the tangent of the sun's elevation.
    assert farthest == pytest.approx(1.8 * np.hypot(*toward[:2]) / toward[2], abs=0.4)


def test_ground_that_is_not_known_is_hatched_grey(made: Plan) -> None:
    frame = frame_view.frame(setting(made), 0, 320)
    unknown = frame.kind == Kind.UNKNOWN
    assert unknown.any()
    colours = {tuple(c) for c in frame_picture.rgb(frame)[unknown].tolist()}
    assert colours == {frame_picture.UNKNOWN, frame_picture.HATCH}


def test_kinds_are_apart_in_grey() -> None:
    def grey(colour: tuple[int, int, int]) -> float:
        return float(np.dot(colour, (0.299, 0.587, 0.114)))  # ITU-R BT.601 luma

    ground = grey(frame_picture.GENTLE)
    for kind in (Kind.TREE, Kind.WOOD, Kind.WIRE, Kind.WATER, Kind.RIDER, Kind.CREW, Kind.POLE):
        assert abs(grey(frame_picture.SOLID[kind]) - ground) > 25.0, kind


def test_the_same_plan_gives_the_same_small_picture(made: Plan) -> None:
    one = replace(made, shots=made.shots[:1])
    first = storyboard.output(one)
    assert first == storyboard.output(one)
    assert list(first) == ["storyboard.png"]
    image = Image.open(io.BytesIO(first["storyboard.png"]))
    assert image.width == 780  # a phone's 390 pixels of a page, two each
    assert len(first["storyboard.png"]) < 150_000


def test_names_are_text_only() -> None:
    plain = storyboard.png(short(made_plan()))
    odd = storyboard.png(short(made_plan(shot_name=EVERY, tree_name=EVERY, site_name=EVERY)))
    size = Image.open(io.BytesIO(plain)).size
    assert Image.open(io.BytesIO(odd)).size == size


def short(plan: Plan) -> Plan:
    """Two frames of the first shot are enough to be drawn."""
    shot: ShotPlan = plan.shots[0]
    scene = replace(
        shot.scene, track=shot.scene.track.part(slice(None), slice(0, 2))
    )  # fmt: skip
    return replace(plan, shots=(replace(shot, scene=scene, findings=()),))


def test_a_preview_runs_in_the_shots_own_time(made: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(preview, "MOST", 5)
    plan = replace(made, shots=made.shots[1:])
    first = preview.output(plan)
    assert list(first) == ["preview-A.gif"]
    assert first == preview.output(plan)
    image = Image.open(io.BytesIO(first["preview-A.gif"]))
    assert image.n_frames == 5  # type: ignore[attr-defined]
    lasts = float(np.ptp(plan.shots[0].scene.track.ride.t_s))
    assert image.info["duration"] * 4 / 1000.0 == pytest.approx(lasts, abs=0.05)


def test_seen_from_above_there_is_no_away(flown: Plan) -> None:
    shot = flown.shots[0]
    i = at(flown, 100.0)
    frame = frame_view.frame(setting(flown), i, 160)
    moved = frame.rider._replace(heads=(0.0, -5.0), seen=1.0)
    for tilt, word in ((-20.0, "away"), (-90.0, "to the top")):
        view = frame.view._replace(elevation_rad=float(np.radians(tilt)))
        seen = frame._replace(rider=moved, view=view)
        assert storyboard.caption(shot, seen, Moment(i, ""), "A1").lines[2] == (f"rides {word}",)


def test_a_camera_inside_a_thing_says_so(flown: Plan) -> None:
    scene = flown.shots[0].scene
    i = at(flown, 100.0)
    xyz = np.array(scene.track.xyz_m)
    oak = flown.outing.site.obstacles.things[0]
    xyz[0, i] = [*oak.where_m[0], 84.0 + 5.0]
    inside = replace(scene, track=replace(scene.track, xyz_m=xyz))
    frame = frame_view.frame(Setting(scene=inside, path_m=flown.outing.ride.xyz_m[0]), i, 160)
    assert frame.inside == "oak"
    said = storyboard.caption(flown.shots[0], frame, Moment(i, ""), "A1")
    assert said.lines[2][0] == "the camera is inside oak"


def test_a_shot_has_its_line_in_a_shot_list(flown: Plan) -> None:
    frame = frame_view.frame(setting(flown), at(flown, 100.0), 160)
    said = dict(shot_line(flown, 0, (frame,)))
    shot = flown.shots[0]
    assert said["time"] == f"{shot.duration_s:.0f} s"
    assert said["move"].startswith("beside the rider: 12 m, ")
    part = 1.0 / frame.rider.share
    assert said["size"] == f"wide: rider 1/{part:.0f} of the height"
    assert ("note" in said) == (shot.verdict != Verdict.GO)


def test_the_place_a_shot_is_about_is_ringed_where_it_is_in_the_picture(flown: Plan) -> None:
    frame = frame_view.frame(setting(flown), at(flown, 100.0), 400)
    foot = flown.shots[0].scene.track.ride.xyz_m[0, at(flown, 100.0)]
    behind = 2.0 * frame.view.eye_m - foot
    for point, count in ((foot, 1), (behind, 0)):
        axes = paper.sheet(200.0, 113.0)
        marks.mark(axes, frame, (0.0, 0.0), 0.5, ((point, "the cairn"),))
        named = [t for t in axes.texts if t.get_text() == "the cairn"]
        assert len(named) == count
        if count:
            middle = frame.rider.box
            x = 0.25 * (middle[0] + middle[2])
            assert named[0].get_position()[0] == pytest.approx(x, abs=20.0)


def test_no_word_of_the_unknown_lies_over_known_ground(made: Plan) -> None:
    frame = frame_view.frame(setting(made), 0, 400)
    for part in (0.12, 0.3, 0.6, 1.0):
        kind = np.full_like(frame.kind, Kind.GROUND)
        kind[: round(part * len(kind))] = Kind.UNKNOWN
        if part < 0.2:
            kind[:, ::40] = Kind.GROUND  # nowhere room for a word
        axes = paper.sheet(200.0, 113.0)
        marks.mark(axes, frame._replace(kind=kind), (0.0, 0.0), 0.5)
        said = [t for t in axes.texts if t.get_text() == marks.UNKNOWN]
        assert len(said) == (part >= 0.2)
        for text in said:
            box = text.get_window_extent().transformed(axes.transData.inverted())
            rows = np.clip((2.0 * np.array([box.y0, box.y1])).astype(int), 0, len(kind) - 1)
            cols = (2.0 * np.array([box.x0, box.x1])).astype(int)
            assert (kind[min(rows) : max(rows), min(cols) : max(cols)] == Kind.UNKNOWN).all()


def test_a_frame_in_the_shade_is_let_in_more_light_and_a_bright_one_is_not(flown: Plan) -> None:
    frame = frame_view.frame(setting(flown), at(flown, 100.0))
    ground = frame.kind == Kind.GROUND
    shade, bright = (frame._replace(light=np.full_like(frame.light, k)) for k in (0.5, 1.0))
    dark, usual = (float(frame_picture.rgb(f)[ground].mean()) for f in (shade, bright))
    assert 0.85 * usual < dark < usual
