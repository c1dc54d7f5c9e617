"""The aircraft: what it can do, what it senses, what its camera sees. SI and radians."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from shotplan.kernels.light.light import Light
from shotplan.kernels.motion import following, sensing
from shotplan.model.arrays import Array, Bools


@dataclass(frozen=True, kw_only=True)
class Camera:
    """`aspect` width over height."""

    horizontal_fov_rad: float
    aspect: float
    frame_width_px: int
    fps: float
    tilt_min_rad: float
    tilt_max_rad: float


@dataclass(frozen=True, kw_only=True)
class Aircraft:
    """See FORMATS "Aircraft TOML"; `span_m` largest dimension with propellers turning."""

    name: str
    describes: str
    mass_kg: float
    span_m: float
    max_speed_m_s: float
    max_climb_m_s: float
    max_sink_m_s: float
    max_accel_m_s2: float
    max_tilt_rad: float
    max_yaw_rad_s: float
    max_wind_m_s: float
    follows_by: Literal["sight", "beacon"]
    sight_sigma_m: float
    position_sigma_m: float
    response_delay_s: float
    response_rad_s: float
    reaction_s: float
    brake_m_s2: float
    camera_turns_freely: bool
    hover_w: float
    battery_wh: float
    reserve_fraction: float
    link_mhz: float
    camera: Camera
    senses: tuple[sensing.Sector, ...]
    least_light_lux: tuple[float, ...] = ()  # per sector of `senses`
    link_range_m: float | None = None  # rated open range; None not known
    top_speed_w: float | None = None  # power at max_speed_m_s; None not measured
    class_mark: str | None = None  # as printed on it; "" it has none, None not known

    @property
    def half_span_m(self) -> float:
        """Half the largest dimension."""
        return self.span_m / 2.0

    @property
    def limits(self) -> following.Limits:
        """What the following kernel needs."""
        return following.Limits(
            self.max_speed_m_s, self.max_climb_m_s, self.max_sink_m_s, self.max_accel_m_s2
        )

    def blind(self, velocity_m_s: Array, heading_rad: Array, light: Light | None = None) -> Bools:
        """Where it flies toward what it does not sense in that light (None: enough, no sun in its
        eyes)."""
        return sensing.blind(
            velocity_m_s,
            heading_rad,
            self.senses,
            self.reaction_s,
            self.brake_m_s2,
            light,
            self.least_light_lux,
        )

    def overrun_m(self, speed_m_s: Array) -> Array:
        """How far it runs on when everything freezes."""
        return np.asarray(sensing.overrun_m(speed_m_s, self.reaction_s, self.brake_m_s2))
