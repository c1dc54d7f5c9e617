from collections.abc import Callable, Mapping

import numpy as np
import pytest

from shotplan.model.arrays import Array
from shotplan.model.flight import Stage
from shotplan.model.ride import STEP_S, Ride
from tests.worlds import made_ride


@pytest.fixture
def make_ride() -> Callable[..., Ride]:
    """Rides `(r, n, 2)` over level ground."""
    return made_ride


@pytest.fixture
def make_stage() -> Callable[..., Stage]:
    """Level ground at 30 m unless said otherwise; a rock 3 m high at (40, 0)."""

    def make(
        ground_m: Callable[[Array], Array] = lambda xy: np.full(xy.shape[:-1], 30.0),
        places: Mapping[str, Array] | None = None,
        launch_m: float = 20.0,
        downhill_rad: float = np.nan,
        lasts_s: float = 8.0,
    ) -> Stage:
        feet = {"rock": np.array([40.0, 0.0, 30.0])} if places is None else places
        aims = {name: foot + np.array([0.0, 0.0, 3.0]) for name, foot in feet.items()}
        return Stage(ground_m, aims, feet, launch_m, downhill_rad, lasts_s)

    return make


@pytest.fixture
def winding(make_ride: Callable[..., Ride]) -> Ride:
    """Two rides that wind north-east at changing speed, 12 s with the lead-in."""
    t = np.arange(120) * STEP_S
    rows = [
        np.stack([3.0 * t + 2.0 * np.sin(a * t), 2.0 * t + np.cos(t)], axis=-1) for a in (0.7, 0.9)
    ]
    return make_ride(np.stack(rows))
