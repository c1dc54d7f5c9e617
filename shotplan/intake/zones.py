"""Flight zones near the ride become `keep-out` areas; none of them is ever read as clear."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from shotplan.errors import Problems
from shotplan.files.words import printable
from shotplan.files.zones import Time, Volume, Zone, read_zone_file
from shotplan.intake.around import Around, told
from shotplan.intake.found import Found
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame

ELSEWHERE_M = 200_000.0  # farther from every zone of the file: it is a file of another place
CORNERS = 72
ACTIONS = {
    "PROHIBITED": "no flying",
    "REQ_AUTHORISATION": "needs action: get an authorisation",
    "REQ_AUTHORIZATION": "needs action: get an authorisation",
    "CONDITIONAL": "needs action: conditions apply",
}
# ISO 3166-1, from memory: a site says two letters, ED-269 three
THREE = {
    "AT": "AUT", "BE": "BEL", "BG": "BGR", "CH": "CHE", "CY": "CYP", "CZ": "CZE",
    "DE": "DEU", "DK": "DNK", "EE": "EST", "ES": "ESP", "FI": "FIN", "FR": "FRA",
    "GB": "GBR", "GR": "GRC", "HR": "HRV", "HU": "HUN", "IE": "IRL", "IS": "ISL",
    "IT": "ITA", "LI": "LIE", "LT": "LTU", "LU": "LUX", "LV": "LVA", "MT": "MLT",
    "NL": "NLD", "NO": "NOR", "PL": "POL", "PT": "PRT", "RO": "ROU", "SE": "SWE",
    "SI": "SVN", "SK": "SVK",
}  # fmt: skip


def read_zones(
    path: Path,
    ride_lonlat_deg: Array,
    problems: Problems,
    *,
    within_m: float = 1000.0,
    at: datetime | None = None,
    country: str = "",
    ground_m: tuple[float, float] | None = None,
) -> Found | None:
    """The zones that touch what lies within `within_m` of the ride `(k, 2)` lon, lat in degrees.

    `at`: when the flight is (with an offset); None keeps every zone. `ground_m`: the lowest and
    highest elevation there, above mean sea level: with it such limits become heights above ground,
    the floor over the highest ground and the ceiling over the lowest, so that the zone is never
    too small; without it they are left out. None where the file is refused: problems say why.
    """
    where, around = printable(path.name), Around(ride_lonlat_deg, within_m)
    zones = read_zone_file(path, where, problems)
    if zones is None:
        return None
    shapes = [(z, v, _shape(v)) for z in zones for v in z.volumes]
    box = shapely.total_bounds([s for _, _, s in shapes])
    if _away_m(box, around) > ELSEWHERE_M:
        problems.add(
            where,
            f"has zones at {told(tuple(box))}; the ride is far from all of them, at "
            f"{told(around.box_deg(0.0))}: take the zones of the country it is in",
        )
        return None
    laid = _Laid(around, at, ground_m)
    for zone, volume, shape in shapes:
        laid.lay(zone, volume, shape)
    said = (*_elsewhere(zones, country), *laid.said(len(zones), box))
    return Found(source="zone", features=tuple(laid.features), credit=f"zones: {where}", said=said)


def _shape(volume: Volume) -> BaseGeometry:
    """In degrees; a circle as a polygon whose sides lie outside it."""
    if volume.centre is None:
        made = [shapely.make_valid(shapely.Polygon(p[0], p[1:])) for p in volume.polygons]
        return shapely.union_all(made)
    turn = np.linspace(0.0, 2.0 * np.pi, CORNERS, endpoint=False)
    out_m = volume.radius_m / np.cos(np.pi / CORNERS) * 1.0005
    xy = out_m * np.stack([np.sin(turn), np.cos(turn)], axis=1)
    frame = Frame(lon_deg=volume.centre[0], lat_deg=volume.centre[1])
    return shapely.Polygon(frame.lonlat_deg(xy))


def _away_m(box: Array, around: Around) -> float:
    """From the ride to the box of all zones; a degree is taken as the meridian's 111 km."""
    lon, lat = around.ride_lonlat_deg.mean(axis=0)
    east = max(box[0] - lon, 0.0, lon - box[2]) * np.cos(np.radians(lat))
    return float(np.hypot(east, max(box[1] - lat, 0.0, lat - box[3])) * 111_000.0)


def _elsewhere(zones: Sequence[Zone], country: str) -> tuple[str, ...]:
    """A remark where the file is of other countries than the site's, or that cannot be told."""
    given = sorted({z.country for z in zones if z.country})
    own = {country.upper(), THREE.get(country.upper(), country.upper())}
    if not country or not given or own & set(given):
        return ()
    named = ", ".join(printable(g) for g in given[:5])
    own_words = f"the site is in {printable(country)}"
    return (f"the file holds zones of {named}, {own_words}: get those of the site's country too",)


class _Laid:
    """Keep-outs as they are made, and what there is to say of them."""

    def __init__(
        self, around: Around, at: datetime | None, ground_m: tuple[float, float] | None
    ) -> None:
        self.around, self.at, self.ground_m = around, at, ground_m
        self.features: list[Mapping[str, Any]] = []
        self.remarks: list[str] = []

    def lay(self, zone: Zone, volume: Volume, shape_deg: BaseGeometry) -> None:
        box = self.around.box_deg(self.around.within_m)
        if not shape_deg.intersects(shapely.box(*box)):
            return
        near = shape_deg.intersection(shapely.box(*self.around.box_deg(5 * self.around.within_m)))
        label = printable(f"{zone.name} ({zone.id})" if zone.name else zone.id)
        parts = self.around.cut(self.around.in_metres(near))
        if not parts:
            return
        if self.at is not None and zone.times and not any(_holds(t, self.at) for t in zone.times):
            self.remarks.append(f"{label}: not in force at {self.at:%Y-%m-%d %H:%M}, left out")
            return
        if zone.restriction == "NO_RESTRICTION":
            self.remarks.append(f"{label}: the file says no restriction; read what it says: "
                                f"{printable(zone.message or 'nothing')}")  # fmt: skip
            return
        action = ACTIONS.get(zone.restriction)
        action = action or f"needs action: ask what {printable(zone.restriction)} means"
        limits, lost = self._limits(volume)
        self.remarks += [f"{label}: {action}", *(f"{label}: {text}" for text in lost)]
        reason = ". ".join(t for t in (action, zone.message, _times(zone.times), zone.asks) if t)
        for part in parts:
            says = {"id": f"zone-{len(self.features) + 1:03d}", "role": "keep-out", "name": label,
                    "reason": reason, **limits, "error_m": 0.0}  # fmt: skip
            geometry = self.around.geometry(part)
            self.features.append({"type": "Feature", "properties": says, "geometry": geometry})

    def _limits(self, volume: Volume) -> tuple[dict[str, float], list[str]]:
        """`floor_m` and `ceiling_m` above ground, and what could not be turned into them."""
        lowest, highest = self.ground_m or (None, None)
        floor, floor_lost = _above_ground(volume.lower_m, volume.lower_from, highest)
        ceiling, ceiling_lost = _above_ground(volume.upper_m, volume.upper_from, lowest)
        made, lost = {}, []
        if floor_lost:
            lost.append(f"its floor ({floor_lost}) is taken as the ground")
        elif floor is not None and floor > 0.0:
            made["floor_m"] = round(floor, 1)
        if ceiling_lost:
            lost.append(f"its ceiling ({ceiling_lost}) is taken as none")
        elif ceiling is not None and ceiling > made.get("floor_m", 0.0):
            made["ceiling_m"] = round(ceiling, 1)
        elif ceiling is not None:
            lost.append("its ceiling lies not above its floor: taken as none")
        return made, lost

    def said(self, count: int, box: Array) -> tuple[str, ...]:
        """Sentences: how many touch, what each asks for."""
        if not self.features:
            none = (
                f"none of its {count} zones is kept within {self.around.within_m:g} m of the ride"
            )
            return (f"{none}; the file's lie at {told(tuple(box))}: that is not leave to fly",
                    *self.remarks)  # fmt: skip
        return (f"{len({f['properties']['name'] for f in self.features})} of its {count} zones "
                "touch the site", *self.remarks)  # fmt: skip


def _above_ground(
    limit_m: float | None, above: str, ground_m: float | None
) -> tuple[float | None, str]:
    """A limit as a height above ground, or in words why it is not known."""
    if limit_m is None:
        return None, ""
    if above == "AGL":
        return limit_m, ""
    if above == "AMSL" and ground_m is not None:
        return limit_m - ground_m, ""
    return None, f"{limit_m:.0f} m {printable(above) or 'above nobody says what'}"


def _holds(time: Time, at: datetime) -> bool:
    """Whether it is in force on that date; hours of the day are told, never left out by."""
    return (time.begins is None or time.begins <= at) and (time.ends is None or at <= time.ends)


def _times(times: Sequence[Time]) -> str:
    told_times = []
    for t in times:
        span = " to ".join(f"{m:%Y-%m-%d %H:%M}" if m else "open" for m in (t.begins, t.ends))
        told_times.append(" ".join(x for x in (span if t.begins or t.ends else "", t.daily) if x))
    return "in force " + ", ".join(x for x in told_times if x) if any(told_times) else ""
