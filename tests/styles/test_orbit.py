import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.orbit import Orbit

ROCK = Orbit(
    around="rock",
    radius_m=25.0,
    height_m=12.0,
    speed_m_s=4.0,
    direction="clockwise",
    start_deg=180.0,
)


def test_starts_at_its_bearing_when_filming_starts(
    winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    wish = ROCK.place(winding, make_stage())
    first = winding.first
    np.testing.assert_allclose(wish.camera_xyz_m[:, first], [[40.0, -25.0, 42.0]] * 2, atol=1e-9)
    # Clockwise from the south is toward the west.
    assert (wish.camera_xyz_m[:, first + 1, 0] < 40.0).all()
    other = replace(ROCK, direction="anticlockwise").place(winding, make_stage())
    assert (other.camera_xyz_m[:, first + 1, 0] > 40.0).all()


def test_runs_at_its_speed_on_its_circle(winding: Ride, make_stage: Callable[..., Stage]) -> None:
    wish = ROCK.place(winding, make_stage())
    out = wish.camera_xyz_m[0, :, :2] - [40.0, 0.0]
    np.testing.assert_allclose(np.hypot(*out.T), 25.0)
    turned = np.diff(np.unwrap(np.arctan2(out[:, 0], out[:, 1])))
    np.testing.assert_allclose(turned * 25.0 / 0.1, 4.0)


def test_round_a_place_it_does_not_follow_the_rider(
    winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    wish = ROCK.place(winding, make_stage())
    assert not wish.follows_rider
    assert not wish.aim_follows_rider
    np.testing.assert_array_equal(wish.camera_xyz_m[0], wish.camera_xyz_m[1])
    np.testing.assert_array_equal(wish.aim_xyz_m, np.broadcast_to([40.0, 0.0, 33.0], (2, 120, 3)))
    watched = replace(ROCK, aim="rider").place(winding, make_stage())
    assert not watched.follows_rider
    assert watched.aim_follows_rider
    np.testing.assert_array_equal(watched.aim_xyz_m, winding.xyz_m + np.array([0.0, 0.0, 1.0]))


def test_round_the_rider_it_is_relative_to_him(
    winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    wish = replace(ROCK, around="rider").place(winding, make_stage())
    assert wish.follows_rider
    assert wish.aim_follows_rider
    out = wish.camera_xyz_m - winding.xyz_m
    np.testing.assert_allclose(np.hypot(out[..., 0], out[..., 1]), 25.0)
    np.testing.assert_allclose(out[..., 2], 12.0)
    np.testing.assert_array_equal(wish.aim_xyz_m, winding.xyz_m + np.array([0.0, 0.0, 1.0]))


def test_a_place_on_unknown_ground(winding: Ride, make_stage: Callable[..., Stage]) -> None:
    stage = make_stage(places={"rock": np.array([40.0, 0.0, math.nan])})
    wish = ROCK.place(winding, stage)
    assert not wish.known.any()
    np.testing.assert_array_equal(wish.camera_xyz_m[..., 2], 42.0)
    np.testing.assert_array_equal(wish.aim_xyz_m[..., 2], 31.0)


def test_words_and_places() -> None:
    assert ROCK.places() == ("rock",)
    assert ROCK.words() == (
        "orbit round rock, clockwise from 180°, radius 25 m, 12 m above it, at 4 m/s"
    )
    rider = replace(ROCK, around="rider", height_over="launch", aim="rider")
    assert rider.places() == ()
    assert rider.words() == (
        "orbit round the rider, clockwise from 180°, radius 25 m, 12 m above the launch, at 4 m/s"
    )
    assert replace(ROCK, aim="rider").words().endswith("at 4 m/s, aiming at the rider")


def test_what_a_search_and_a_card_tell_of_it() -> None:
    rider = replace(ROCK, around="rider", height_over="launch")
    assert ROCK.label() == "orbit rock clockwise 25 m, 12 m up, 4 m/s"
    assert rider.label() == "orbit the rider clockwise 25 m, 12 m up over launch, 4 m/s"
    assert (ROCK.group(), rider.group()) == ("orbit, rock", "orbit, the rider")
    tries = Ladders(styles=(), orbit_m=(10.0,), orbit_heights_m=(6.0,), orbit_m_s=(3.0,))
    found = list(Orbit.candidates(Search(tries, ("rock",), False)))
    assert [(s.around, s.direction) for s in found] == [
        ("rider", "clockwise"), ("rider", "anticlockwise"),
        ("rock", "clockwise"), ("rock", "anticlockwise"),
    ]  # fmt: skip
    assert {(s.radius_m, s.height_m, s.speed_m_s, s.aim) for s in found} == {
        (10.0, 6.0, 3.0, "rider"),
    }  # fmt: skip
    assert ROCK.easier(1)[0] == replace(ROCK, radius_m=28.0, speed_m_s=3.2)
    assert [(one.label, one.told) for one in ROCK.settings()] == [
        ("over its place", "12 m"), ("radius", "25 m"), ("direction", "clockwise"),
        ("speed", "4 m/s"),
    ]  # fmt: skip
    assert replace(rider, height_over="rider").settings()[0].label == "over rider"
