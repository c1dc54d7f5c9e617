import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from shotplan.kernels.motion.setpoints import HeightOver
from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.hold import Hold

STILL = Hold(at="rock", height_m=5.0)


@pytest.mark.parametrize(
    ("over", "height"), [("rider", 35.0), ("higher-ground", 38.0), ("launch", 25.0)]
)
def test_stands_over_the_place_and_watches_the_rider(
    winding: Ride, make_stage: Callable[..., Stage], over: HeightOver, height: float
) -> None:
    # The rock's foot is at (40, 0, 30); the ground the flight sees there is said to be at 33 m.
    stage = make_stage(lambda xy: np.full(xy.shape[:-1], 33.0))
    wish = replace(STILL, height_over=over).place(winding, stage)
    expected = np.broadcast_to([40.0, 0.0, height], (2, 120, 3))
    np.testing.assert_array_equal(wish.camera_xyz_m, expected)
    np.testing.assert_array_equal(wish.aim_xyz_m, winding.xyz_m + np.array([0.0, 0.0, 1.0]))
    assert not wish.follows_rider
    assert wish.aim_follows_rider
    assert wish.known.all()


def test_a_place_on_unknown_ground(winding: Ride, make_stage: Callable[..., Stage]) -> None:
    wish = STILL.place(winding, make_stage(places={"rock": np.array([40.0, 0.0, math.nan])}))
    assert not wish.known.any()
    np.testing.assert_array_equal(wish.camera_xyz_m[..., 2], 35.0)


def test_words_and_places() -> None:
    assert STILL.places() == ("rock",)
    assert STILL.words() == "hold at rock, 5 m above it"
    over = replace(STILL, height_over="launch")
    assert over.words() == "hold at rock, 5 m above the launch"


def test_what_a_search_and_a_card_tell_of_it() -> None:
    assert (STILL.label(), STILL.group()) == ("hold rock, 5 m up", "hold, rock")
    search = Search(Ladders(styles=(), hold_heights_m=(3.0, 6.0)), ("rock", "pond"), slopes=False)
    assert list(Hold.candidates(search)) == [
        Hold(at=place, height_m=height) for place in ("rock", "pond") for height in (3.0, 6.0)
    ]
    assert not list(Hold.candidates(search._replace(places=())))
    assert STILL.easier(1) == (replace(STILL, height_m=7.0),)
    assert [(one.label, one.told) for one in STILL.settings()] == [("over its place", "5 m")]
    assert replace(STILL, height_over="launch").settings()[0].label == "over launch"
