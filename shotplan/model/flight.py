"""A wish (where a style wants the camera) and a track (where the aircraft flies)."""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from typing import Any, ClassVar, NamedTuple, Protocol, cast

from shotplan.kernels.motion import setpoints
from shotplan.model import nearby
from shotplan.model.arrays import Array, Bools, put
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import WAYS, Setting, Way

FARTHER_M, HIGHER_M, SLOWER = 3.0, 2.0, 0.25  # of one step of an easier version; own choice


class Stage(NamedTuple):
    """What a style may know of the place: `ground_m(xy (...,2)) -> (...)`; `places` id -> `(3,)`
    point to aim at (ground plus the place's height) and `feet` id -> `(3,)` on the ground;
    `launch_m` elevation of the launch (NaN not known); `downhill_rad` azimuth of the mean slope
    under the shot's part of the ride (NaN level or not known); `lasts_s` how long the undisturbed
    ride takes over that part (NaN not known)."""

    ground_m: Callable[[Array], Array]
    places: Mapping[str, Array]
    feet: Mapping[str, Array]
    launch_m: float
    downhill_rad: float
    lasts_s: float = math.nan

    def raised(
        self, xy_m: Array, height_m: float | Array, over: setpoints.HeightOver, centre_m: Array
    ) -> setpoints.SetPoints:
        """`kernels.setpoints.raised` over this place's ground and launch."""
        return setpoints.raised(xy_m, height_m, over, centre_m, self.ground_m, self.launch_m)


@dataclass(frozen=True, kw_only=True)
class Wish:
    """Set points over a ride's samples, lead-in included, as if there were no delay.

    `camera_xyz_m`, `aim_xyz_m (r,n,3)`; `follows_rider`: flown with the response delay (else as
    wished, with its own acceleration); `aim_follows_rider`: the aim is delayed too.
    `known (r,n)` False where the set point's height rests on unknown ground. `down_toward_rad
    (r,n)` where the camera is held straight down: the azimuth at the top of its picture, which the
    nose takes too (NaN, or None for all: it aims).
    """

    camera_xyz_m: Array
    aim_xyz_m: Array
    follows_rider: bool
    aim_follows_rider: bool
    known: Bools
    down_toward_rad: Array | None = None

    def __post_init__(self) -> None:
        """Check shapes; freeze the arrays."""
        r, n, _ = put(self, "camera_xyz_m", (None, None, 3))
        put(self, "aim_xyz_m", (r, n, 3))
        put(self, "known", (r, n))
        if self.down_toward_rad is not None:
            put(self, "down_toward_rad", (r, n))

    @classmethod
    def on_rider(
        cls, camera: setpoints.SetPoints, rider_m: Array, *, follows: bool = True, known: Any = True
    ) -> Wish:
        """The camera held on the rider `rider_m (r,n,3)`, whether or not the aircraft follows him;
        `known` where more than the set point's height must be."""
        return cls(
            camera_xyz_m=camera.xyz_m,
            aim_xyz_m=setpoints.aim_at(rider_m),
            follows_rider=follows,
            aim_follows_rider=True,
            known=camera.known & known,
        )

    def samples(self, part: slice, rows: slice = slice(None)) -> Wish:
        """The same wish over a slice of the samples, and of the rides (views)."""
        down = self.down_toward_rad
        return replace(
            self,
            camera_xyz_m=self.camera_xyz_m[rows, part],
            aim_xyz_m=self.aim_xyz_m[rows, part],
            known=self.known[rows, part],
            down_toward_rad=None if down is None else down[rows, part],
        )


class Style(Protocol):
    """One way to follow. A frozen dataclass whose fields are its TOML keys, made a subclass of
    this: what is abstract here, and the two names, each style must say; the rest holds of one that
    names no place and has no beginning of its own."""

    name: ClassVar[str]  # as written in `style = "..."`
    flies: ClassVar[str]  # how, after "The aircraft flies": beside the rider
    word: ClassVar[str] = ""  # on a button, "" its name
    searched: ClassVar[bool] = True  # whether a search has candidates of it
    stands_at: ClassVar[str] = ""  # the key of the place it stays over

    @abstractmethod
    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points for every ride and sample."""

    @abstractmethod
    def words(self) -> str:
        """One plain line: side-track, left, 12 m out, 6 m above the rider."""

    @abstractmethod
    def settings(self) -> tuple[Setting, ...]:
        """What is set before it flies, as a card tells it, and what a larger number does."""

    def moves(self, *ways: Way) -> tuple[Setting, ...]:
        """Its numbers, given or not, of which more goes one of these ways."""
        return tuple(one for one in self.settings() if one.more in ways)

    @classmethod
    @abstractmethod
    def candidates(cls, search: Search) -> Iterable[Style]:
        """All that make sense in a search, in a fixed order."""

    def which(self) -> str:
        """What tells it from others of its name, whatever its numbers: left; the rider."""
        return ""

    def group(self) -> str:
        """Name and side, a row of the strip: side-track, left; orbit, the rider."""
        return ", ".join(filter(None, (self.name, self.which())))

    def numbers(self) -> str:
        """In few words: 12 m, 6 m up."""
        return ", ".join(one.told + one.after for way in WAYS for one in self.moves(way))

    def label(self) -> str:
        """In few words, all of it: side-track left 12 m, 6 m up."""
        return " ".join(filter(None, (self.name, self.which(), self.numbers())))

    def places(self) -> tuple[str, ...]:
        """Ids of the places it names."""
        return ()

    def later(self, t_s: float) -> Style:  # noqa: ARG002
        """The same flight begun `t_s` after its beginning: where it has got to by then."""
        return self

    def held_side(self, azimuth_rad: float) -> str:  # noqa: ARG002
        """The setting that keeps it on that side in bends, as TOML; "" where there is none."""
        return ""

    def keys(self) -> dict[str, Any]:
        """Its TOML keys, those at their default left out."""
        found: dict[str, Any] = {"style": self.name}
        for one in fields(cast(Any, self)):
            value = getattr(self, one.name)
            if value is not None and (one.default is MISSING or value != one.default):
                found[one.name] = value
        return found

    def choices(self) -> Mapping[str, tuple[str, ...]]:
        """Its settings that are one of a few words, and the words a change may try."""
        return nearby.words_of(self)

    def near(self, reach: nearby.Reach) -> list[nearby.Near]:
        """Versions of it near what was asked for, the least changed first: other distances,
        heights, speeds, another side."""
        return nearby.nearby(self, self.choices(), reach)

    def easier(self, step: int) -> tuple[Style, ...]:
        """The same style `step` steps easier, the least changed first: farther; higher; both. What
        has a speed is slower in each of them. Side, place, direction stay."""

        def moved(*ways: Way, more: float = 0.0, times: float = 1.0) -> dict[str, float]:
            given = (one for one in self.moves(*ways) if one.value is not None)
            return {one.key: round(one.number * times + more, 1) for one in given}

        far = moved("out", "wide", more=step * FARTHER_M)
        high = moved("up", more=step * HIGHER_M)
        slow = moved("fast", times=1.0 / (1.0 + step * SLOWER))
        ways = [way for way in (far, high, {**far, **high}) if way]
        made = (cast(Style, replace(cast(Any, self), **way, **slow)) for way in ways)
        return tuple(dict.fromkeys(made))


class OneMoment(Style, Protocol):
    """A style of one moment, with a beginning and an end of its own: cut into stretches it would be
    something else, so no search offers it."""

    searched: ClassVar[bool] = False

    @classmethod
    def candidates(cls, search: Search) -> Iterable[Style]:  # noqa: ARG003
        """None."""
        return ()

    def label(self) -> str:
        """All of it: few words do not say how it begins and ends."""
        return self.words()


@dataclass(frozen=True, kw_only=True)
class Track:
    """Where the aircraft flies, over the filmed samples only.

    `xyz_m`, `velocity_m_s (r,n,3)` over the ground; `heading_rad` of the nose,
    `camera_azimuth_rad`, `camera_elevation_rad (r,n)`; `asked_m_s2 (r,n)` level acceleration the
    following asked for before limits; `setpoint_velocity_m_s (r,n,3)`; `known (r,n)` False where
    it rests on unknown ground. `ride` covers the same samples.
    """

    ride: Ride
    xyz_m: Array
    velocity_m_s: Array
    heading_rad: Array
    camera_azimuth_rad: Array
    camera_elevation_rad: Array
    asked_m_s2: Array
    setpoint_velocity_m_s: Array
    known: Bools

    def __post_init__(self) -> None:
        """Check shapes; freeze the arrays."""
        r, n = self.ride.speed_m_s.shape
        for name in ("xyz_m", "velocity_m_s", "setpoint_velocity_m_s"):
            put(self, name, (r, n, 3))
        for name in (
            "heading_rad",
            "camera_azimuth_rad",
            "camera_elevation_rad",
            "asked_m_s2",
            "known",
        ):
            put(self, name, (r, n))

    def part(self, rows: slice, samples: slice = slice(None)) -> Track:
        """Some of the rides, and of the samples (views)."""
        return replace(
            self,
            ride=self.ride.rows(rows).samples(samples),
            xyz_m=self.xyz_m[rows, samples],
            velocity_m_s=self.velocity_m_s[rows, samples],
            heading_rad=self.heading_rad[rows, samples],
            camera_azimuth_rad=self.camera_azimuth_rad[rows, samples],
            camera_elevation_rad=self.camera_elevation_rad[rows, samples],
            asked_m_s2=self.asked_m_s2[rows, samples],
            setpoint_velocity_m_s=self.setpoint_velocity_m_s[rows, samples],
            known=self.known[rows, samples],
        )

    def with_first(self, once: Track) -> Track:
        """These tracks, the first of them flown more finely (`once`, as long as it is)."""
        count = once.xyz_m.shape[1]

        def mixed(many: Array, one: Array) -> Array:
            whole = many.copy()
            whole[:1, :count] = one
            return whole

        return replace(
            self,
            xyz_m=mixed(self.xyz_m, once.xyz_m),
            velocity_m_s=mixed(self.velocity_m_s, once.velocity_m_s),
            heading_rad=mixed(self.heading_rad, once.heading_rad),
            camera_azimuth_rad=mixed(self.camera_azimuth_rad, once.camera_azimuth_rad),
            camera_elevation_rad=mixed(self.camera_elevation_rad, once.camera_elevation_rad),
            asked_m_s2=mixed(self.asked_m_s2, once.asked_m_s2),
            setpoint_velocity_m_s=mixed(self.setpoint_velocity_m_s, once.setpoint_velocity_m_s),
        )
