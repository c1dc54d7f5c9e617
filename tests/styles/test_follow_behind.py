from collections.abc import Callable

import numpy as np

from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
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


def test_what_a_search_and_a_card_tell_of_it() -> None:
    assert (BEHIND.label(), BEHIND.group()) == ("follow-behind 8 m, 4 m up", "follow-behind")
    search = Search(Ladders(styles=(), behind_m=(6.0, 9.0), heights_m=(2.5, 4.0)), (), False)
    assert [(s.distance_m, s.height_m) for s in FollowBehind.candidates(search)] == [
        (6.0, 2.5), (6.0, 4.0), (9.0, 2.5), (9.0, 4.0),
    ]  # fmt: skip
    farther, higher, both = BEHIND.easier(1)
    assert farther == FollowBehind(distance_m=11.0, height_m=4.0)
    assert higher == FollowBehind(distance_m=8.0, height_m=6.0)
    assert both == FollowBehind(distance_m=11.0, height_m=6.0)
    told = [(one.label, one.told) for one in BEHIND.settings()]
    assert told == [("over rider", "4 m"), ("distance", "8 m")]
