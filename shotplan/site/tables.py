"""site.toml: a dataclass per table (FORMATS "A site is a folder")."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

from shotplan.files.kinds import (
    Above,
    Along,
    Date,
    Error,
    Flag,
    Ground,
    Lasting,
    Moment,
    Push,
    RasterName,
    Size,
    Spreads,
    Text,
    Whole,
    between,
    counted,
    several,
)
from shotplan.model.day import Category, CrewRole
from shotplan.model.shot import LinkLost
from shotplan.model.site import Kind


@dataclass(frozen=True, kw_only=True)
class SiteTable:
    """The keys outside every table."""

    format: Literal[1]
    name: Text
    rules: Text
    start: Moment
    country: str = ""
    ground: str = "ground.geojson"
    terrain: RasterName = ""
    terrain_m: Ground | None = None
    terrain_error_m: Annotated[float, between(0, 100)] | None = None
    surroundings: RasterName = ""
    timezone: str = ""
    keep_clear_m: Error = 2.0
    map_error_m: Error = 1.0
    return_height_m: Annotated[float, between(0.1, 1000)] | None = None
    link_lost: LinkLost = "home"


@dataclass(frozen=True, kw_only=True)
class SurveyTable:
    """`[survey]`: where somebody looked, and for what."""

    on: Date | None = None
    looked_for: tuple[Kind, ...] = ()
    least_height_m: Annotated[float, between(0, 100)] = 0.5


@dataclass(frozen=True, kw_only=True)
class WeatherTable:
    """`[weather]`."""

    wind_m_s: Annotated[float, between(0, 75)] | None = None
    wind_from_deg: Annotated[float, between(0, 360)] | None = None
    wind_from: str | None = None
    gust_m_s: Annotated[float, between(0, 100)] | None = None
    temperature_c: Annotated[float, between(-60, 60)] | None = None
    visibility_m: Annotated[float, between(1, 1_000_000)] | None = None
    measured_at: str = "forecast"
    measured_height_m: Annotated[float, between(1.5, 300)] | None = None
    roughness: Category = "II"


@dataclass(frozen=True, kw_only=True)
class RideTable:
    """`[ride]`."""

    path: Text | Annotated[tuple[Text, ...], several("several recordings of one ride in a list")]
    speed_m_s: Annotated[float, between(0.1, 45)] | None = None
    error_m: Error | None = None
    clear_m: Annotated[float, between(0.1, 200)] | None = None
    overhead_m: Annotated[float, between(0.1, 1000)] | None = None
    there_and_back: Flag = False
    from_m: Along = 0.0
    to_m: Along | None = None


@dataclass(frozen=True, kw_only=True)
class BesideTable:
    """`[[beside]]`: an obstacle described from the ride."""

    role: Literal["tree", "pole", "building", "wire"]
    height_m: Size
    at_m: Along | None = None
    from_m: Along | None = None
    to_m: Along | None = None
    left_m: Annotated[float, between(0, 5000)] | None = None
    right_m: Annotated[float, between(0, 5000)] | None = None
    radius_m: Size | None = None
    base_m: Above = 0.0
    trunk_radius_m: Size = 0.3
    error_m: Error = 0.5
    height_error_m: Error = 1.0
    id: str = ""
    name: str = ""
    on: Date | None = None

    @property
    def drawn_radius_m(self) -> float:
        """Its radius, or half its thickness; a pole is 0.3 m, a row 0.5 m where not said."""
        if self.radius_m is not None:
            return self.radius_m
        return 0.3 if self.role == "pole" and self.at_m is not None else 0.5


SEVERAL = 'role = ["rider", "pilot"]'


@dataclass(frozen=True, kw_only=True)
class CrewTable:
    """`[[crew]]`."""

    name: Text
    role: CrewRole | Annotated[tuple[CrewRole, ...], several(f"several in one list: {SEVERAL}")]
    stands: str = ""
    eye_m: Annotated[float, between(0.1, 10)] = 1.6

    @property
    def roles(self) -> frozenset[CrewRole]:
        """One or several, as a set."""
        return frozenset((self.role,) if isinstance(self.role, str) else self.role)


@dataclass(frozen=True, kw_only=True)
class DayTable:
    """`[day]`."""

    aircraft_between: Literal["lands", "waits"] = "lands"
    reset_s: Annotated[float, between(0, 86_400)] = 300.0


@dataclass(frozen=True, kw_only=True)
class ShotTable:
    """`[[shot]]`, without the keys of its style."""

    name: Text
    style: Text
    from_m: Along = 0.0
    to_m: Along | None = None
    takes: Annotated[int, counted(100)] = 1
    stands: Mapping[str, str] = field(default_factory=dict)
    link_lost: LinkLost | None = None


@dataclass(frozen=True, kw_only=True)
class DisturbanceTable:
    """`[disturbance]`; what is not said stays at its default (`model.disturbance`)."""

    rides: Annotated[int, counted(10_000)] | None = None
    seed: Whole | None = None
    speed_sigma: Annotated[float, between(0, 0.5)] | None = None
    brakes_per_km: Annotated[float, between(0, 50)] | None = None
    brake_m_s2: Push | None = None
    pause_s: Annotated[float, between(0, 30)] | None = None
    resume_m_s2: Push | None = None
    sight_s: Lasting | None = None
    receiver_open_m: Error | None = None
    receiver_leaves_m: Error | None = None
    receiver_s: Lasting | None = None
    height_sigma_m: Error | None = None
    gust_sigmas: Spreads | None = None
    gust_s: Lasting | None = None
    response_sigma: Annotated[float, between(0, 1)] | None = None


@dataclass(frozen=True, kw_only=True)
class ShotWanted:
    """A shot's own keys, its style's raw keys, and where it stands in the file."""

    says: ShotTable
    style_keys: Mapping[str, Any]
    where: str


@dataclass(frozen=True, kw_only=True)
class SiteFile:
    """All of site.toml. None where a table is missing or could not be read."""

    site: SiteTable | None
    survey: SurveyTable | None
    weather: WeatherTable | None
    ride: RideTable | None
    day: DayTable | None
    disturbance: DisturbanceTable | None
    aircraft: Mapping[str, Any]
    beside: tuple[tuple[int, BesideTable], ...]
    crew: tuple[CrewTable, ...]
    shots: tuple[ShotWanted, ...]
