from collections.abc import Callable

import numpy as np
import pytest

from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.top_down import TopDown

ABOVE = TopDown(height_m=12.0)


def test_straight_above_and_straight_down(winding: Ride, make_stage: Callable[..., Stage]) -> None:
    wish = ABOVE.place(winding, make_stage())
    np.testing.assert_array_equal(wish.camera_xyz_m, winding.xyz_m + np.array([0.0, 0.0, 12.0]))
    np.testing.assert_array_equal(wish.down_toward_rad, winding.course_rad)
    assert wish.follows_rider
    assert wish.aim_follows_rider
    assert wish.known.all()


@pytest.mark.parametrize("height", [0.5, 1.0])
def test_no_lower_than_the_rider(height: float) -> None:
    with pytest.raises(ValueError, match="not above the rider"):
        TopDown(height_m=height)


def test_words() -> None:
    assert ABOVE.places() == ()
    assert ABOVE.words() == "top-down, 12 m above the rider"


def test_what_a_search_and_a_card_tell_of_it() -> None:
    assert (ABOVE.label(), ABOVE.group()) == ("top-down 12 m up", "top-down")
    tries = Ladders(styles=(), top_down_m=(8.0, 12.0))
    assert list(TopDown.candidates(Search(tries, (), False))) == [TopDown(height_m=8.0), ABOVE]
    assert ABOVE.easier(1) == (TopDown(height_m=14.0),)
    assert [(one.label, one.told) for one in ABOVE.settings()] == [("over rider", "12 m")]
