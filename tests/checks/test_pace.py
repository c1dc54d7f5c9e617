"""Whether it keeps up: the same law without limits by another library, closed forms by hand."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import signal

from shotplan import plan
from shotplan.checks import pace
from shotplan.judging.judge import find
from shotplan.judging.judged import Finding
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.scene.scene import Scene
from tests import worlds

CALM = {"wind_m_s": 0.0, "wind_from_deg": None, "gust_m_s": 0.0}


def scene_of(folder: Path, weather: dict[str, Any] | None = None, **world: Any) -> Scene:
    site = {"weather": CALM if weather is None else weather, **world.pop("site", {})}
    return worlds.staged(folder, site=site, **world)


def asked(scene: Scene) -> Finding:
    return find(pace.CHECK, scene)


def against(speed_m_s: float) -> dict[str, Any]:
    """A wind against a ride to the north."""
    return {"wind_m_s": speed_m_s, "wind_from_deg": 0.0, "gust_m_s": speed_m_s}


def test_short_of_airspeed_it_falls_behind_by_the_difference(tmp_path: Path) -> None:
    """6 m/s against 8 m/s want 14 of the 12 it has: 2 m/s are lost as long as it lasts."""
    scene = scene_of(tmp_path, against(8.0))
    found = asked(scene)
    lasts = float(scene.track.ride.t_s[-1])
    assert found.value == pytest.approx(2.0 * lasts, abs=0.1)
    assert found.limit == pytest.approx(2.4)
    assert (found.unit, found.thing) == ("m", "airspeed")
    assert (found.verdict, found.family) == (Verdict.CAUTION, "picture")
    # 12 less 8 leave 4 m/s, 14.4 km/h.
    assert found.advice == "ride at most about 14 km/h from 0 to 200 m"


def test_within_its_limits_nothing_throws_it_off(tmp_path: Path) -> None:
    found = asked(scene_of(tmp_path, against(5.9)))
    assert found.value == pytest.approx(0.0, abs=1e-9)
    assert found.verdict == Verdict.GO
    assert "at most it needs 99% of the airspeed it has (12.0 m/s)" in found.reason


BEND = np.array([(-60.0, -60.0), (0.0, 0.0), (60.0, -60.0)])


def test_without_limits_it_flies_what_a_linear_filter_gives(tmp_path: Path) -> None:
    """(w² + 2ws)/(s + w)² of the delayed set point (DEFINITIONS), by scipy.signal.lsim; in a bend
    that wants several times its acceleration."""
    scene = scene_of(tmp_path, ride=BEND, site={"ride": {"speed_m_s": 9.0}})
    assert scene.free is not None
    assert scene.wish is not None
    craft = scene.aircraft
    w, delay = craft.response_rad_s, craft.response_delay_s
    t = scene.track.ride.t_s
    fine = np.arange(0.0, t[-1] + 1e-9, 0.002)
    law = signal.TransferFunction([2.0 * w, w * w], [1.0, 2.0 * w, w * w])
    flown = scene.free.xyz_m[0]
    for axis in (0, 1):
        set_point = scene.wish.camera_xyz_m[0, :, axis]
        # Straight on before the first sample, as it rides in.
        before = set_point[0] + (set_point[1] - set_point[0]) / STEP_S * (fine - delay - t[0])
        wished = np.where(fine > delay + t[0], np.interp(fine - delay, t, set_point), before)
        slope = (wished[1] - wished[0]) / 0.002
        _, moved, _ = signal.lsim(law, wished - wished[0] - slope * fine, fine)
        there = np.interp(t, fine, moved + wished[0] + slope * fine)
        np.testing.assert_allclose(flown[:, axis], there, atol=0.05)
    found = asked(scene)
    assert found.thing == "acceleration"
    assert found.value == pytest.approx(
        np.linalg.norm(scene.track.xyz_m[0] - flown, axis=1).max(), abs=1e-9
    )
    assert found.value is not None
    assert found.value > 2.4


def test_the_speed_to_ride_at_is_one_at_which_it_keeps_up(tmp_path: Path) -> None:
    angle = np.linspace(0.0, np.pi, 60)
    arc = 25.0 * np.column_stack([np.sin(angle), np.cos(angle)])
    for k, (weather, ride, speed) in enumerate(
        [(against(8.0), 0.0, 6.0), (CALM, arc, 9.0), (CALM, 0.0, 15.0)]
    ):
        world: dict[str, Any] = {"weather": weather, "ride": ride}
        fast = asked(scene_of(tmp_path / f"a{k}", **world, site={"ride": {"speed_m_s": speed}}))
        slower = float(fast.advice.split("ride at most about ")[1].split(" km/h")[0]) / 3.6
        again = scene_of(tmp_path / f"b{k}", **world, site={"ride": {"speed_m_s": slower}})
        assert asked(again).verdict == Verdict.GO
        assert fast.verdict == Verdict.CAUTION


def test_at_a_corner_no_speed_is_advised_that_would_not_help(tmp_path: Path) -> None:
    """On the spot a course that is taken over 2 s swings round in 2 s at any speed."""
    found = asked(scene_of(tmp_path, ride=BEND, site={"ride": {"speed_m_s": 9.0}}))
    assert "km/h" not in found.advice
    assert found.advice.startswith("set `side = ")


def test_a_wind_of_more_than_it_flies_asks_for_less_wind_and_not_for_no_speed(
    tmp_path: Path,
) -> None:
    found = asked(scene_of(tmp_path, against(13.0)))
    assert (found.verdict, found.family) == (Verdict.CAUTION, "picture")
    assert found.advice.startswith("wait for less wind: it flies 12.0 m/s at most")
    assert "km/h" not in found.advice


@pytest.mark.parametrize(
    ("shot", "limit_m"),
    [
        ({"style": "side-track", "side": "left", "distance_m": 30.0}, 6.0),
        ({"style": "follow-behind", "distance_m": 8.0}, 2.0),
        (
            {
                "style": "orbit",
                "around": "rider",
                "radius_m": 20.0,
                "speed_m_s": 3.0,
                "direction": "clockwise",
            },
            4.0,
        ),
        ({"style": "top-down"}, 2.0),
    ],
)
def test_the_limit_goes_with_the_distance(
    tmp_path: Path, shot: dict[str, Any], limit_m: float
) -> None:
    given = {"name": "a", "height_m": 8.0, **shot}
    found = asked(scene_of(tmp_path, site={"shot": [given]}))
    assert found.limit == pytest.approx(limit_m)


def test_the_camera_is_turned_no_faster_than_it_turns(tmp_path: Path) -> None:
    """Past a hold 3 m beside the line at 14 m/s: (v / d) = 4.7 rad/s at the nearest, it turns 90
    degrees a second. The angle by hand: the turn is behind from where it wants more than that, and
    the same speed all the way to the end of it."""
    hold = {"name": "a", "style": "hold", "at": "post", "height_m": 4.0}
    post = worlds.place("post", east_m=-3.0, north_m=0.0)
    scene = scene_of(
        tmp_path, ride=0.0, features=[post], site={"shot": [hold], "ride": {"speed_m_s": 14.0}}
    )
    found = asked(scene)
    assert (found.thing, found.unit, found.verdict) == ("yaw rate", "°", Verdict.CAUTION)
    assert found.limit == pytest.approx(
        math.degrees(scene.aircraft.camera.horizontal_fov_rad) / 4.0
    )
    d, v, most = 3.0, 14.0, scene.aircraft.max_yaw_rad_s
    # atan(v t / d) turns as fast as it can at t0 < 0, and it lags most at -t0.
    t0 = math.sqrt((v / most - d) * d) / v
    lag = 2.0 * math.atan(v * t0 / d) - 2.0 * t0 * most
    assert found.value == pytest.approx(math.degrees(lag), abs=8.0)  # samples 0.1 s apart
    assert "the camera points" in found.reason


def test_with_no_wind_said_it_is_unknown_and_says_what_it_has_room_for(tmp_path: Path) -> None:
    silent = dict.fromkeys(CALM)
    found = asked(scene_of(tmp_path / "a", silent))
    assert found.verdict == Verdict.UNKNOWN
    spare = float(found.advice.split("stays under ")[1].split(" m/s")[0])
    assert spare == pytest.approx(6.0)  # 12 less 6
    assert asked(scene_of(tmp_path / "b", against(spare))).verdict == Verdict.GO
    fast = {"site": {"ride": {"speed_m_s": 15.0}}}
    assert asked(scene_of(tmp_path / "c", silent, **fast)).verdict == Verdict.CAUTION


def test_a_stop_of_the_rider_is_no_reason(tmp_path: Path) -> None:
    """What jitter round a stop made of it once: "needs 509 % of its acceleration", "ride at most
    0 km/h". Fixes a second apart, half a metre of jitter, 20 s on the spot."""
    rng = np.random.default_rng(5)
    t = np.arange(61.0)
    north = 5.0 * np.minimum(t, 20.0) + 5.0 * np.maximum(t - 40.0, 0.0)
    xy = np.column_stack([np.zeros(61), north - 100.0]) + rng.normal(0.0, 0.5, (61, 2))
    found = asked(scene_of(tmp_path, ride=worlds.gpx_text(xy, t)))
    assert found.verdict == Verdict.GO


def test_a_search_asks_it_too(tmp_path: Path) -> None:
    """The flight without limits is there in a search as in a plan."""
    from shotplan.advice.ranking import field_of, ranked
    from shotplan.advice.wanted import Wanted

    outing = read(worlds.write_site(tmp_path, site={"weather": against(8.0)}))
    (one,) = ranked(field_of(outing, Wanted(rides=2)), (outing.shots[0].style,))
    assert set(one.binding[2:]) == {"pace"}


def test_the_wind_check_alone_says_no_go_for_wind(tmp_path: Path) -> None:
    made = plan.make(read(worlds.write_site(tmp_path, site={"weather": against(13.0)})))
    assert made.shots[0].finding("pace").family == "picture"
    assert made.shots[0].finding("wind").verdict == Verdict.NO_GO
