from collections.abc import Callable

import numpy as np

from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.styles.follow_behind import FollowBehind

BEHIND = FollowBehind(distance_m=8.0, height_m=4.0)


def test_behind_is_against_the_course(
    make_ride: Callable[..., Ride], make_stage: Callable[..., Stage]
) -> None:
    t = np.arange(30) * 0.1
    east = make_ride(np.stack([6.0 * t, 0.0 * t], axis=-1)[None])
    wish = BEHIND.place(east, make_stage())
    expected = east.xyz_m[0] + [-8.0, 0.0, 4.0]
    np.testing.assert_allclose(wish.camera_xyz_m[0], expected, atol=1e-9)
    np.testing.assert_allclose(wish.aim_xyz_m[0], east.xyz_m[0] + [0.0, 0.0, 1.0])
    assert wish.follows_rider
    assert wish.aim_follows_rider


def test_words() -> None:
    assert BEHIND.words() == "follow-behind, 8 m back, 4 m above the rider"
