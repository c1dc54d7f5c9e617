"""The aircraft TOML as FORMATS has it, table by table, and what it becomes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

from shotplan.files.kinds import ClassMark, Delay, Error, Push, Speed, between
from shotplan.files.tables import (
    Acute,
    Azimuth,
    Count,
    Elevation,
    Flag,
    Opening,
    Ratio,
    Text,
)
from shotplan.kernels.motion.sensing import Sector
from shotplan.model.aircraft import Aircraft, Camera


@dataclass(frozen=True, kw_only=True)
class CameraTable:
    """`[camera]`."""

    horizontal_fov_deg: Opening
    aspect: Ratio
    frame_width_px: Count
    fps: Annotated[float, between(1, 1000)]
    tilt_min_deg: Elevation
    tilt_max_deg: Elevation

    def __post_init__(self) -> None:
        """The tilts must be in order."""
        if self.tilt_min_deg >= self.tilt_max_deg:
            raise ValueError(
                f"tilt_min_deg is {self.tilt_min_deg:g} and tilt_max_deg {self.tilt_max_deg:g}; "
                "wanted the lower one first"
            )

    def made(self) -> Camera:
        """The camera, in radians."""
        width, height = self.aspect.split(":")
        return Camera(
            horizontal_fov_rad=math.radians(self.horizontal_fov_deg),
            aspect=int(width) / int(height),
            frame_width_px=self.frame_width_px,
            fps=self.fps,
            tilt_min_rad=math.radians(self.tilt_min_deg),
            tilt_max_rad=math.radians(self.tilt_max_deg),
        )


@dataclass(frozen=True, kw_only=True)
class SensesTable:
    """One `[[senses]]`: `from_deg` to `to_deg`, clockwise from the nose, where it looks around."""

    looks: Literal["around", "below", "above"]
    from_deg: Azimuth | None = None
    to_deg: Azimuth | None = None
    range_m: Annotated[float, between(0.1, 1000)]
    works_to_m_s: Annotated[float, between(0, 100)]
    least_light_lux: Annotated[float, between(0, 200000)]

    def __post_init__(self) -> None:
        """A sector has two different ends; below and above have none."""
        ends = (self.from_deg, self.to_deg)
        if self.looks == "around":
            if None in ends:
                raise ValueError(
                    'looks "around" needs from_deg and to_deg, clockwise from the nose'
                )
            if self.from_deg == self.to_deg:
                raise ValueError(
                    f"from_deg and to_deg are both {self.from_deg:g}, a sector without width; all "
                    "round is from_deg = -180, to_deg = 180"
                )
        elif ends != (None, None):
            raise ValueError(f'looks "{self.looks}" takes no from_deg and to_deg: leave them out')

    def made(self) -> Sector:
        """The sector, in radians, `to_rad` at most one turn past `from_rad`."""
        start, end = self.from_deg or 0.0, self.to_deg or 0.0
        width = (end - start) % 360.0 or 360.0
        if self.looks != "around":
            width = 0.0
        return Sector(
            self.looks,
            math.radians(start),
            math.radians(start + width),
            self.range_m,
            self.works_to_m_s,
        )


@dataclass(frozen=True, kw_only=True)
class AircraftTable:
    """An aircraft TOML. `senses` left out: it senses nothing."""

    format: Literal[1]
    name: Text
    describes: Text
    mass_kg: Annotated[float, between(0.01, 100)]
    span_m: Annotated[float, between(0.01, 10)]
    max_speed_m_s: Speed
    max_climb_m_s: Speed
    max_sink_m_s: Speed
    max_accel_m_s2: Push
    max_tilt_deg: Acute
    max_yaw_deg_s: Annotated[float, between(1, 1000)]
    max_wind_m_s: Speed
    follows_by: Literal["sight", "beacon"]
    sight_sigma_m: Error
    position_sigma_m: Error
    response_delay_s: Delay
    response_rad_s: Annotated[float, between(0.05, 20)]
    reaction_s: Delay
    brake_m_s2: Push
    camera_turns_freely: Flag
    hover_w: Annotated[float, between(1, 20000)]
    battery_wh: Annotated[float, between(0.1, 5000)]
    reserve_fraction: Annotated[float, between(0, 0.9)]
    link_mhz: Annotated[float, between(10, 100000)]
    camera: CameraTable
    senses: tuple[SensesTable, ...] = ()
    link_range_m: Annotated[float, between(1, 100000)] | None = None
    top_speed_w: Annotated[float, between(1, 50000)] | None = None
    class_mark: ClassMark | None = None

    def made(self) -> Aircraft:
        """The aircraft, in radians."""
        return Aircraft(
            name=self.name,
            describes=self.describes,
            mass_kg=self.mass_kg,
            span_m=self.span_m,
            max_speed_m_s=self.max_speed_m_s,
            max_climb_m_s=self.max_climb_m_s,
            max_sink_m_s=self.max_sink_m_s,
            max_accel_m_s2=self.max_accel_m_s2,
            max_tilt_rad=math.radians(self.max_tilt_deg),
            max_yaw_rad_s=math.radians(self.max_yaw_deg_s),
            max_wind_m_s=self.max_wind_m_s,
            follows_by=self.follows_by,
            sight_sigma_m=self.sight_sigma_m,
            position_sigma_m=self.position_sigma_m,
            response_delay_s=self.response_delay_s,
            response_rad_s=self.response_rad_s,
            reaction_s=self.reaction_s,
            brake_m_s2=self.brake_m_s2,
            camera_turns_freely=self.camera_turns_freely,
            hover_w=self.hover_w,
            battery_wh=self.battery_wh,
            reserve_fraction=self.reserve_fraction,
            link_mhz=self.link_mhz,
            camera=self.camera.made(),
            senses=tuple(s.made() for s in self.senses),
            least_light_lux=tuple(s.least_light_lux for s in self.senses),
            link_range_m=self.link_range_m,
            top_speed_w=self.top_speed_w,
            class_mark=self.class_mark,
        )
