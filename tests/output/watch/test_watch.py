from __future__ import annotations

import dataclasses
import io
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from shotplan import plan as pipeline
from shotplan.aids.compass import declination
from shotplan.aids.skyline import Kind
from shotplan.judging.judged import Plan
from shotplan.outing import read
from shotplan.output import paper
from shotplan.output.watch import names as watch_names
from shotplan.output.watch import picture as watch_picture
from shotplan.output.watch import watch
from shotplan.output.watch.view import Looked, looked
from shotplan.output.watch.watched import Sight
from tests import worlds
from tests.output.hostile import EVERY, NAMES
from tests.output.made_plan import made_plan

CREW = [
    {"name": "Ada", "role": "rider"},
    {"name": "Bo", "role": "pilot", "stands": "launch"},
    {"name": "Tove", "role": "spotter", "stands": "knoll"},
]


def made(folder: Path, **site: Any) -> Plan:
    """Riding north; Bo stands 30 m to the east, a tree between; Tove far to the west."""
    features = [
        worlds.tree("oak", east_m=12.0, north_m=10.0, height_m=14.0, radius_m=4.0, name="bent oak"),
        worlds.place("knoll", east_m=-90.0, north_m=0.0),
        worlds.feature(
            "hut", "building", worlds.polygon(worlds.box(-60.0, 40.0, -50.0, 50.0)), height_m=5.0
        ),
    ]
    given = {"crew": CREW, **site}
    return pipeline.make(read(worlds.write_site(folder, features=features, site=given)))


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return made(tmp_path_factory.mktemp("watch"))


def seen_by(plan: Plan, who: int, shot: int = 0) -> Looked:
    found = looked(plan.shots[shot], "A", watch.standing(plan)[who], watch.ACROSS, watch.HIGH)
    assert found is not None
    return found


def test_a_picture_for_everybody_who_stands(plan: Plan) -> None:
    assert [p.name for p in watch.standing(plan)] == ["Bo", "Tove"]
    files = watch.output(plan)
    assert list(files) == ["watch-1.png", "watch-2.png"]
    assert files == watch.output(plan)
    with Image.open(io.BytesIO(files["watch-1.png"])) as picture:
        assert picture.width == 780


def test_one_who_rides_has_none(plan: Plan) -> None:
    ada = dataclasses.replace(plan.outing.day.crew[0], roles=frozenset(("rider", "pilot")))
    day = dataclasses.replace(plan.outing.day, crew=(ada,))
    alone = dataclasses.replace(plan, outing=dataclasses.replace(plan.outing, day=day))
    assert watch.output(alone) == {}


def test_it_flies_where_the_eye_turns_to(plan: Plan) -> None:
    one = seen_by(plan, 0)
    track = one.shot.scene.track.xyz_m[0]
    way = track - one.around.eye_m
    # north is up the ride: from the east one looks west, it comes from the left (south) ...
    first, last = (math.degrees(one.azimuth_rad[k]) % 360.0 for k in (0, -1))
    assert 180.0 < first < 270.0 < last < 360.0
    assert one.azimuth_rad[-1] > one.azimuth_rad[0]
    np.testing.assert_allclose(
        np.tan(one.elevation_rad), way[:, 2] / np.hypot(way[:, 0], way[:, 1]), atol=1e-9
    )
    # ... and for one in the west it goes to the left
    other = seen_by(plan, 1)
    assert other.azimuth_rad[-1] < other.azimuth_rad[0]


def test_the_window_holds_the_whole_track_at_one_scale(plan: Plan) -> None:
    for who in (0, 1):
        one = seen_by(plan, who)
        at = watch_names.frame_at(one, watch.EDGE, 0.0, watch.ACROSS)
        x, y = at.x(one.azimuth_rad), at.y(one.elevation_rad)
        assert at.left < np.nanmin(x)
        assert np.nanmax(x) < at.right
        assert at.top < y.min()
        assert y.max() < at.bottom
        assert at.bottom - at.top <= watch.HIGH + 1.0
        up = np.diff(one.around.elevation_rad)
        np.testing.assert_allclose(-up, np.diff(one.around.azimuth_rad).mean(), rtol=0.01)


def test_gaps_are_those_of_the_line_of_sight(plan: Plan) -> None:
    one = seen_by(plan, 0)
    hidden = np.zeros(len(one.seen.sight), dtype=bool)
    for gap in one.gaps:
        assert gap.by == "bent oak"
        hidden[gap.low : gap.high] = True
    assert hidden.sum() > 3
    np.testing.assert_array_equal(hidden, one.seen.sight == Sight.HIDDEN)
    said = [line for line in watch.lines(plan, watch.standing(plan)[0]) if "not seen" in line]
    assert len(said) == len(one.gaps)
    assert f"({one.gaps[0].seconds:.1f} s): not seen, hidden by bent oak" in said[0]
    assert [g.by for g in seen_by(plan, 1).gaps] == ["hut"]


def test_what_stands_there_is_seen_and_named(plan: Plan) -> None:
    one = seen_by(plan, 1)
    assert {Kind.SKY, Kind.GROUND, Kind.TREE, Kind.BUILDING} <= set(np.unique(one.around.kind))
    named = {n.text: n for n in watch_names.named(one)}
    assert {"bent oak", "hut", "launch (Bo)"} <= set(named)
    oak = math.degrees(named["bent oak"].azimuth_rad) % 360.0
    assert oak == pytest.approx(math.degrees(math.atan2(102.0, 10.0)), abs=2.5)


def test_the_bearing_is_said_once_as_the_compass_shows_it(plan: Plan) -> None:
    said = list(watch.lines(plan, watch.standing(plan)[0]))
    (line,) = [line for line in said if "on the compass" in line]
    one, frame = seen_by(plan, 0), plan.outing.site.frame
    needle = declination(frame.lon_deg, frame.lat_deg, 84.0, plan.outing.day.start)
    assert needle is not None
    shown = round(math.degrees(one.zero_rad - needle.east_rad)) % 360
    assert line.startswith(f"0 is where it begins: {shown}° on the compass")
    late = dataclasses.replace(plan.shots[0].scene, start=plan.outing.day.start.replace(year=2034))
    unknown = dataclasses.replace(plan, shots=(dataclasses.replace(plan.shots[0], scene=late),))
    text = " ".join(watch.lines(unknown, watch.standing(plan)[0]))
    assert "how the needle lies is not known" in text


def test_fists_and_fingers() -> None:
    # common practice: a fist at arm's length is 10 degrees wide, a little finger 1 degree
    assert watch.fists(math.radians(25.0), "left", "right") == "2½ right"
    assert watch.fists(math.radians(-9.0), "left", "right") == "1 left"
    assert watch.fists(math.radians(4.0), "down", "up") == "½ up"
    assert watch.fists(math.radians(1.0), "down", "up") == "eye level"
    assert watch.fists(math.radians(-1.0), "left", "right") == "0"
    assert watch.as_wide(1.0 / 6.0) == "as wide as 1/6 of your little finger"
    assert watch.as_wide(1.0) == "as wide as your little finger"
    assert watch.as_wide(3.1) == "3 little fingers wide"


def test_ticks_are_few_and_begin_at_the_beginning(plan: Plan) -> None:
    one = seen_by(plan, 0)
    t = one.shot.scene.track.ride.t_s
    assert one.ticks[0] == 0
    assert 3 <= len(one.ticks) <= 8
    steps = np.diff([t[i] for i in one.ticks[:-1]])
    np.testing.assert_allclose(steps, steps[0], atol=1e-6)


def test_looking_into_the_sun_is_said(tmp_path: Path) -> None:
    # in the evening the sun stands low in the north-west, where Bo looks
    low = made(tmp_path, start=worlds.SITE["start"].replace(hour=20, minute=15))
    one = seen_by(low, 0)
    assert one.sun.dazzles.any()
    assert "shade your eyes" in " ".join(watch.lines(low, watch.standing(low)[0]))
    other = seen_by(low, 1)
    assert not other.sun.dazzles.any()
    ring = watch_picture._ring(1.0, 0.3, math.radians(25.0))
    toward = np.stack([np.sin(ring[:, 0]) * np.cos(ring[:, 1]), np.cos(ring[:, 0]) *
                       np.cos(ring[:, 1]), np.sin(ring[:, 1])], axis=-1)  # fmt: skip
    sun = np.array([math.sin(1.0) * math.cos(0.3), math.cos(1.0) * math.cos(0.3), math.sin(0.3)])
    np.testing.assert_allclose(np.degrees(np.arccos(toward @ sun)), 25.0, atol=1e-6)


def test_a_stand_that_is_not_known_is_said_not_drawn(plan: Plan) -> None:
    bo = dataclasses.replace(plan.outing.day.crew[1], stands="")
    assert looked(plan.shots[0], "A", bo, watch.ACROSS, watch.HIGH) is None
    assert "not known" in " ".join(watch.lines(plan, bo))


def test_ground_that_is_not_known_is_hatched_and_said() -> None:
    hills = made_plan(hilly=True)
    (sem,) = watch.standing(hills)
    one = looked(hills.shots[0], "A", sem, watch.ACROSS, watch.HIGH)
    assert one is not None
    assert np.isfinite(one.around.known_m).any()
    assert "the ground is known only" in " ".join(watch.lines(hills, sem))
    picture = watch_picture._image(one)
    assert (np.abs(picture - watch_picture.HATCH).max(axis=-1) < 1e-9).any()
    level = made_plan()
    assert "the ground is known only" not in " ".join(watch.lines(level, sem))


def test_hostile_names_stay_text(plan: Plan) -> None:
    for name in (EVERY, *NAMES):
        bo = dataclasses.replace(plan.outing.day.crew[1], name=name)
        day = dataclasses.replace(plan.outing.day, crew=(plan.outing.day.crew[0], bo))
        shot = dataclasses.replace(plan.shots[0].scene.shot, name=name)
        scene = dataclasses.replace(plan.shots[0].scene, shot=shot, day=day)
        said = dataclasses.replace(
            plan,
            outing=dataclasses.replace(plan.outing, day=day),
            shots=(dataclasses.replace(plan.shots[0], scene=scene),),
        )
        assert watch.png(said, bo).startswith(b"\x89PNG")
        assert not any(ord(c) < 32 for line in watch.lines(said, bo) for c in line)


def test_no_text_is_taken_for_a_formula() -> None:
    axes = paper.sheet(100.0, 50.0, 72)
    paper.write(axes, 5.0, 5.0, NAMES[-1])
    (text,) = axes.texts
    assert not text.get_parse_math()
