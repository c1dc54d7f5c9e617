"""What the tags of a thing mean here: its role, its size, and what was taken where none is given.

Tags: wiki.openstreetmap.org, Map features (from memory). Sizes that nobody gave are on the large
side of what is common (common practice), and each is counted and said.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from shotplan.units import FOOT_M

LEVEL_M, ROOF_M = 3.5, 3.0
TRANSMISSION_V = 50_000.0
_SIZE = re.compile(r"^\s*(\d+(?:[.,]\d+)?)\s*(m|metres?|meters?|ft|feet|')?\s*$", re.IGNORECASE)
_INCHES = re.compile(r"^\s*(\d+)'\s*(\d+)\"\s*$")
Tags = Mapping[str, str]


class Meaning(NamedTuple):
    """`role`; `says` its properties; `assumed` what was taken ("" nothing) and `thing` the plural
    it is counted by; `grow_m` makes a line an area; `whole`: not cut at the edge of the region."""

    role: str
    says: dict[str, Any]
    thing: str = ""
    assumed: str = ""
    grow_m: float = 0.0
    whole: bool = False


def size_m(text: str | None) -> float | None:
    """`12`, `12.5 m`, `40 ft`, `40'`, `6'3"` in metres; None where it is no such size, or 0."""
    if text is None:
        return None
    if both := _INCHES.match(text):
        return (int(both[1]) + int(both[2]) / 12.0) * FOOT_M or None
    if (found := _SIZE.match(text)) is None:
        return None
    size = float(found[1].replace(",", "."))
    in_feet = (found[2] or "m").lower() in ("ft", "feet", "'")
    size = size * FOOT_M if in_feet else size
    return size if 0.0 < size < 1000.0 else None


def meaning(tags: Tags, kind: str) -> Meaning | None:
    """`kind`: point, line or area. None: nothing to lay into a site."""
    for ask in (_wire, _upright, _building, _green, _fence, _keep_out, _water, _people):
        if (found := ask(tags, kind)) is not None:
            return found
    return None


def _tall(tags: Tags, thing: str, usual_m: float, error_m: float) -> tuple[dict[str, Any], str]:
    """Height as given, else the usual one with its doubt, and what to say of it."""
    if (given := size_m(tags.get("height"))) is not None:
        return {"height_m": round(given, 2), "height_error_m": round(max(1.0, 0.1 * given), 1)}, ""
    said = f"{thing} without a height: taken as {usual_m:g} m"
    return {"height_m": usual_m, "height_error_m": error_m}, said


def _made(
    role: str, tags: Tags, thing: str, usual_m: float, error_m: float, **more: Any
) -> Meaning:
    grow_m, whole = more.pop("grow_m", 0.0), more.pop("whole", False)
    says, assumed = _tall(tags, thing, usual_m, error_m)
    return Meaning(role, {**says, **more}, thing, assumed, grow_m, whole)


def _wire(tags: Tags, kind: str) -> Meaning | None:
    if kind != "line" or "underground" in (tags.get("location"), tags.get("tunnel")):
        return None
    power = tags.get("power")
    if power in ("line", "minor_line"):
        high = power == "line" and _volts(tags.get("voltage")) >= TRANSMISSION_V
        says = {"kind": "transmission" if high else "local"}
        return Meaning("wire", says, "power lines", "power lines: how high they hang is not known")
    if tags.get("aerialway") not in (None, "station", "pylon", "magic_carpet"):
        return Meaning("wire", {}, "lifts", "lifts: how high their ropes hang is not known")
    if "line" in (tags.get("telecom"), tags.get("communication")):
        return Meaning("wire", {"kind": "local"}, "lines", "telephone lines: height not known")
    return None


def _volts(text: str | None) -> float:
    """The highest of `220000;110000`; a line that does not say counts as a high one."""
    volts = [float(v) for v in (text or "").replace(" ", "").split(";") if v.isdigit()]
    return max(volts, default=float("inf"))


def _upright(tags: Tags, kind: str) -> Meaning | None:
    if kind != "point":
        return None
    if tags.get("natural") == "tree":
        crown = size_m(tags.get("diameter_crown"))
        return _made("tree", tags, "trees", 25.0, 5.0, radius_m=crown / 2 if crown else 5.0)
    posts = (
        ("power", ("tower",), "power towers", 60.0, 5.0),
        ("power", ("pole", "portal", "terminal"), "power poles", 14.0, 0.5),
        ("aerialway", ("pylon",), "lift pylons", 30.0, 2.0),
        ("man_made", ("mast", "tower", "chimney", "crane", "antenna", "communications_tower"),
         "masts and towers", 80.0, 5.0),
        ("man_made", ("flagpole", "utility_pole", "lighthouse", "windmill", "cross"),
         "poles", 25.0, 2.0),
        ("power", ("generator",), "generators", 200.0, 60.0),
        ("highway", ("street_lamp",), "street lamps", 12.0, 1.5),
    )  # fmt: skip
    for key, values, thing, usual_m, radius_m in posts:
        wind = thing != "generators" or "wind" in (
            tags.get("generator:source"),
            tags.get("power_source"),
        )
        if tags.get(key) in values and wind:
            return _made("pole", tags, thing, usual_m, 0.25 * usual_m, radius_m=radius_m)
    return None


def _building(tags: Tags, kind: str) -> Meaning | None:
    tower = tags.get("man_made") in ("tower", "chimney", "silo", "storage_tank")
    if kind != "area" or (tags.get("building", "no") == "no" and not tower):
        return None
    levels = size_m(tags.get("building:levels"))
    if size_m(tags.get("height")) is None and levels is not None:
        above = size_m(tags.get("roof:levels")) or 0.0
        height_m = LEVEL_M * (levels + above) + ROOF_M
        says = {"height_m": height_m, "height_error_m": max(3.0, 0.15 * height_m)}
        said = f"buildings of known levels: {LEVEL_M:g} m each and {ROOF_M:g} m of roof"
        return Meaning("building", says, "buildings", said, 0.0, True)
    usual_m = 80.0 if tower else 20.0
    return _made("building", tags, "towers" if tower else "buildings", usual_m, 10.0, whole=True)


def _green(tags: Tags, kind: str) -> Meaning | None:
    natural, land = tags.get("natural"), tags.get("landuse")
    if kind == "line" and natural == "tree_row":
        return _made("wood", tags, "rows of trees", 25.0, 5.0, grow_m=5.0)
    if kind != "point" and tags.get("barrier") == "hedge":
        return _made("wood", tags, "hedges", 4.0, 2.0, grow_m=1.0)
    if kind != "area":
        return None
    if natural == "wood" or land == "forest":
        return _made("wood", tags, "woods", 35.0, 10.0)
    if natural == "scrub" or land in ("orchard", "plant_nursery"):
        return _made("wood", tags, "scrub and orchards", 8.0, 4.0)
    return None


def _fence(tags: Tags, kind: str) -> Meaning | None:
    barrier = tags.get("barrier")
    if kind != "point" and barrier in ("wall", "fence", "retaining_wall", "city_wall"):
        usual_m = 12.0 if barrier == "city_wall" else 3.0
        return _made("building", tags, "walls and fences", usual_m, 1.0, grow_m=0.4)
    return None


def _keep_out(tags: Tags, kind: str) -> Meaning | None:
    land = tags.get("boundary") in ("protected_area", "national_park")
    army = tags.get("landuse") == "military" or "military" in tags
    if kind != "area" or not (land or army or tags.get("leisure") == "nature_reserve"):
        return None
    what = "military land" if army else "protected area"
    reason = f"ask: {what}; whether flying is allowed here the map does not say"
    return Meaning("keep-out", {"reason": reason}, "protected or military areas")


def _water(tags: Tags, kind: str) -> Meaning | None:
    named = tags.get("natural") == "water" or tags.get("waterway") == "riverbank"
    if kind == "area" and (named or tags.get("landuse") in ("reservoir", "basin")):
        return Meaning("water", {}, "waters")
    return None


PLACES = {
    "amenity": ("parking", "school", "kindergarten", "restaurant", "shelter", "cafe"),
    "leisure": ("playground", "pitch", "park", "swimming_pool", "sports_centre", "water_park"),
    "tourism": ("camp_site", "picnic_site", "viewpoint", "alpine_hut", "caravan_site"),
    "natural": ("beach",),
    "railway": ("rail", "light_rail", "tram", "narrow_gauge", "platform"),
    "aerialway": ("station", "magic_carpet"),
}
NO_WAY = ("construction", "proposed", "abandoned", "razed", "street_lamp", "elevator")


def _people(tags: Tags, kind: str) -> Meaning | None:
    way = tags.get("highway")
    if way is not None and kind != "point" and way not in NO_WAY:
        return Meaning("people", {}, "paths and roads")
    if any(tags.get(key) in values for key, values in PLACES.items()):
        return Meaning("people", {}, "places where people are")
    return None
