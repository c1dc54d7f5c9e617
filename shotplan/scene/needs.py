"""What somebody has to say for a check to know: one list for `survey` and for the checks.

Each check names its needs (`Check.needs`); whatever is missing of them leaves it unknown, or may.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from shotplan.kernels.ground import standing
from shotplan.kernels.rides.runs import runs
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Bools
from shotplan.model.day import Day, Person
from shotplan.model.ride import Ride
from shotplan.model.rules import Rules
from shotplan.model.shot import Shot
from shotplan.model.site import Kind, Site

NEAR_M = np.array([15.0, 30.0, 45.0, 60.0])  # of the ride, where flights are: own choice
SPOTS = 200  # of the ride, at which the ground beside it is asked


class Given(Protocol):
    """All that a folder says, as far as needs ask for it."""

    @property
    def site(self) -> Site:
        """The place."""
        ...

    @property
    def day(self) -> Day:
        """When and with whom."""
        ...

    @property
    def aircraft(self) -> Aircraft:
        """What flies."""
        ...

    @property
    def rules(self) -> Rules:
        """The pack."""
        ...

    @property
    def ride(self) -> Ride:
        """The undisturbed ride."""
        ...

    @property
    def shots(self) -> Sequence[Shot]:
        """What is wanted."""
        ...


@dataclass(frozen=True, kw_only=True)
class Need:
    """One thing to be said: `what` and `thing` how it is told where it is missing (`no` `gust`;
    those of one `what` are told together), `give` what to do then. `lacks` None where it is there,
    else where it is missing ("" everywhere)."""

    what: str
    thing: str
    give: str
    lacks: Callable[[Given], str | None]

    def where(self, asked: Callable[[Given], bool]) -> Need:
        """The same, needed only by some."""
        return replace(self, lacks=lambda given: self.lacks(given) if asked(given) else None)


def _absent(missing: Callable[[Given], bool]) -> Callable[[Given], str | None]:
    return lambda given: "" if missing(given) else None


def looked_for(*kinds: Kind) -> tuple[Need, ...]:
    """That somebody looked for them along the ride."""
    return tuple(
        Need(
            what="nobody looked for",
            thing=kind,
            give="walk there and add it to looked_for of [survey], or of a `surveyed` polygon",
            lacks=lambda given, kind=kind: _unlooked(given, kind),  # type: ignore[misc]
        )
        for kind in kinds
    )


def _unlooked(given: Given, kind: Kind) -> str | None:
    if given.site.boundary is None and not given.site.surveyed:
        return "no boundary says where [survey] holds"
    xy = given.ride.xyz_m[0, :, :2]
    return _along(given, ~given.site.looked(xy, (kind,)))


def _along(given: Given, missing: Bools) -> str | None:
    """Where along the ride."""
    if not missing.any():
        return None
    if missing.all():
        return ""
    along = given.ride.along_m[0]
    parts = [
        f"{along[low]:.0f} to {along[min(high, len(along) - 1)]:.0f} m"
        for low, high in runs(missing)
        if missing[low]
    ]
    more = f" and {len(parts) - 3} more" if len(parts) > 3 else ""
    return f"at {', '.join(parts[:3])}{more} of the ride"


def _ground(given: Given) -> str | None:
    at = _along(given, ~given.ride.ground_known[0])
    if at is not None:
        return at
    xy = given.ride.xyz_m[0, :: max(1, given.ride.xyz_m.shape[1] // SPOTS), :2]
    ways = standing.rays(np.zeros(2), NEAR_M).reshape(-1, 2)
    gaps = np.isnan(given.site.terrain.ground_m(xy[:, None] + ways[None])).any()
    return f"within {NEAR_M[-1]:.0f} m of the ride" if gaps else None


def _unstanding(given: Given, people: Sequence[Person]) -> str | None:
    """Those who stand nowhere in some shot."""
    names = [
        p.name
        for p in people
        if "rider" not in p.roles and not all(s.stands.place_of(p) for s in given.shots)
    ]
    return f"for {', '.join(names)}" if names else None


def _low(given: Given) -> str | None:
    names = [t.label for t in given.site.obstacles.things if not np.isfinite(t.height_m)]
    more = f" and {len(names) - 6} more" if len(names) > 6 else ""
    return f"of {', '.join(names[:6])}{more}" if names else None


def _weather(key: str, thing: str, missing: Callable[[Given], bool]) -> Need:
    return Need(
        what="no",
        thing=thing,
        give=f"give [weather] {key}, from a forecast",
        lacks=_absent(missing),
    )


def homing(given: Given) -> bool:
    """Whether any shot flies home when the link is lost."""
    return any(shot.link_lost == "home" for shot in given.shots)


TERRAIN = Need(
    what="no", thing="ground", give="give terrain that covers ride and flight", lacks=_ground
)
BOUNDARY = Need(
    what="no", thing="boundary", give="draw one polygon with role boundary",
    lacks=_absent(lambda g: g.site.boundary is None),
)  # fmt: skip
LAUNCH = Need(
    what="no", thing="launch", give="draw a place with id launch",
    lacks=_absent(lambda g: g.site.launch is None),
)  # fmt: skip
HEIGHTS = Need(what="no", thing="height", give="give its height_m", lacks=_low)
PILOT = Need(
    what="no", thing="pilot", give="add [[crew]] with that role",
    lacks=_absent(lambda g: not g.day.who("pilot")),
)  # fmt: skip
PILOT_STANDS = Need(
    what="no", thing="place to stand", give="give stands, the id of a place",
    lacks=lambda g: _unstanding(g, g.day.who("pilot")),
)  # fmt: skip
ALL_STAND = replace(
    PILOT_STANDS, lacks=lambda g: _unstanding(g, (*g.day.who("pilot"), *g.day.who("spotter")))
)
WIND = _weather("wind_m_s", "wind", lambda g: g.day.weather.wind_m_s is None)
WIND_FROM = _weather(
    "wind_from", "side the wind is from",
    lambda g: g.day.weather.wind_m_s != 0.0 and g.day.weather.wind_from_rad is None,
)  # fmt: skip
GUST = _weather("gust_m_s", "gust", lambda g: g.day.weather.gust_m_s is None)
TEMPERATURE = _weather(
    "temperature_c", "temperature", lambda g: g.day.weather.temperature_c is None
)
VISIBILITY = _weather("visibility_m", "visibility", lambda g: g.day.weather.visibility_m is None)
RETURN_HEIGHT = Need(
    what="no", thing="return height", give="give return_height_m, as it is set on the aircraft",
    lacks=_absent(lambda g: g.site.return_height_m is None and homing(g)),
)  # fmt: skip
EVERY = (TERRAIN,)  # of every check: without ground nothing flies anywhere that is known
