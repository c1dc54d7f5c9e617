import math
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest

from shotplan.kernels.motion.sensing import Sector
from shotplan.model.aircraft import Aircraft, Camera
from shotplan.model.flight import Stage
from shotplan.model.ride import STEP_S, Ride
from tests.worlds import made_ride


def around(from_deg: float, to_deg: float) -> Sector:
    return Sector("around", math.radians(from_deg), math.radians(to_deg), 25.0, 10.0)


BELOW = Sector("below", 0.0, 0.0, 10.0, 4.0)
SENSES = {
    "folding-light": (around(-45, 45), around(150, 210), BELOW),
    "folding-all-round": (around(-180, 180), BELOW),
}


@pytest.fixture
def make_aircraft() -> Callable[..., Aircraft]:
    """The light folding aircraft printed in the formats; `senses` by a class's name."""

    def make(senses: str = "folding-light", **other: Any) -> Aircraft:
        camera = Camera(
            horizontal_fov_rad=1.25,
            aspect=16 / 9,
            frame_width_px=3840,
            fps=30.0,
            tilt_min_rad=-math.pi / 2,
            tilt_max_rad=math.pi / 3,
        )
        values: dict[str, Any] = {
            "name": senses,
            "describes": "for tests",
            "mass_kg": 0.249,
            "span_m": 0.36,
            "max_speed_m_s": 12.0,
            "max_climb_m_s": 4.0,
            "max_sink_m_s": 3.0,
            "max_accel_m_s2": 4.0,
            "max_tilt_rad": math.radians(30),
            "max_yaw_rad_s": math.radians(90),
            "max_wind_m_s": 10.0,
            "follows_by": "sight",
            "sight_sigma_m": 0.4,
            "position_sigma_m": 1.5,
            "response_delay_s": 0.5,
            "response_rad_s": 0.9,
            "reaction_s": 1.0,
            "brake_m_s2": 4.0,
            "camera_turns_freely": False,
            "hover_w": 38.0,
            "battery_wh": 18.0,
            "reserve_fraction": 0.3,
            "link_mhz": 2400.0,
            "camera": camera,
            "senses": SENSES[senses],
        }
        return Aircraft(**(values | other))

    return make


@pytest.fixture
def make_ride() -> Callable[..., Ride]:
    """Rides `(r, n, 2)` over level ground at 30 m, the first 20 samples not filmed."""
    return partial(made_ride, lead=20)


@pytest.fixture
def level() -> Stage:
    """Level ground at 30 m, downhill to the west, a rock 3 m high at (40, 0)."""
    foot = np.array([40.0, 0.0, 30.0])
    return Stage(
        lambda xy: np.full(xy.shape[:-1], 30.0),
        {"rock": foot + np.array([0.0, 0.0, 3.0])},
        {"rock": foot},
        30.0,
        -math.pi / 2,
        lasts_s=20.0,
    )


@pytest.fixture
def north(make_ride: Callable[..., Ride]) -> Ride:
    """Straight north at 6 m/s for 20 s after a lead-in of 2 s."""
    t = np.arange(220) * STEP_S
    return make_ride(np.stack([0.0 * t, 6.0 * t], axis=-1)[None])
