import math
from collections.abc import Callable

import numpy as np

from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.lead import Lead

AHEAD = Lead(distance_m=8.0, height_m=4.0)


def test_ahead_is_along_the_course(
    make_ride: Callable[..., Ride], make_stage: Callable[..., Stage]
) -> None:
    t = np.arange(30) * 0.1
    east = make_ride(np.stack([6.0 * t, 0.0 * t], axis=-1)[None])
    wish = AHEAD.place(east, make_stage())
    np.testing.assert_allclose(wish.camera_xyz_m[0], east.xyz_m[0] + [8.0, 0.0, 4.0], atol=1e-9)
    np.testing.assert_allclose(wish.aim_xyz_m[0], east.xyz_m[0] + [0.0, 0.0, 1.0])
    assert wish.follows_rider
    assert wish.aim_follows_rider


def test_in_a_bend_it_swings_outside(
    make_ride: Callable[..., Ride], make_stage: Callable[..., Stage]
) -> None:
    # On a circle of 20 m the point 8 m ahead along the tangent is hypot(20, 8) m from its centre.
    turn = np.linspace(0.0, math.pi, 200)
    ride = make_ride(20.0 * np.stack([np.sin(turn), np.cos(turn)], axis=-1)[None])
    camera = AHEAD.place(ride, make_stage()).camera_xyz_m[0, 1:-1]
    np.testing.assert_allclose(np.hypot(camera[:, 0], camera[:, 1]), math.hypot(20.0, 8.0))


def test_words() -> None:
    assert AHEAD.words() == "lead, 8 m ahead, 4 m above the rider"


def test_what_a_search_and_a_card_tell_of_it() -> None:
    assert (AHEAD.label(), AHEAD.group()) == ("lead 8 m, 4 m up", "lead")
    tries = Ladders(styles=(), behind_m=(6.0, 9.0), heights_m=(2.5, 4.0))
    assert [(s.distance_m, s.height_m) for s in Lead.candidates(Search(tries, (), False))] == [
        (6.0, 2.5), (6.0, 4.0), (9.0, 2.5), (9.0, 4.0),
    ]  # fmt: skip
    assert AHEAD.easier(2)[0] == Lead(distance_m=14.0, height_m=4.0)
    told = [(one.label, one.told) for one in AHEAD.settings()]
    assert told == [("over rider", "4 m"), ("distance", "8 m")]
