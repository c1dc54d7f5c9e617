"""An extract of OpenStreetMap becomes features around the ride.

Nobody is known to have looked for everything: no `surveyed` area comes of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from shotplan.errors import Problems
from shotplan.files.osm import Extract, Item, read_extract
from shotplan.files.words import printable
from shotplan.intake.around import Around, apart, told
from shotplan.intake.found import Found
from shotplan.intake.osm.tags import Meaning, meaning
from shotplan.model.arrays import Array

CREDIT = "© OpenStreetMap contributors"
FLYING_M = 10_000.0  # aerodromes are told from so far
MAPPED_M = 3.0  # common practice: traced from aerial pictures


def read_osm(
    path: Path, ride_lonlat_deg: Array, problems: Problems, *, within_m: float = 300.0
) -> Found | None:
    """What the extract knows within `within_m` of the ride `(k, 2)` lon, lat in degrees.

    None where it cannot be read or is of another place: then problems say why.
    """
    around, where = Around(ride_lonlat_deg, within_m), printable(path.name)
    box = around.box_deg(within_m)
    extract = read_extract(path, box, around.box_deg(FLYING_M), "aeroway", where, problems)
    if extract is None:
        return None
    if extract.box is None:
        problems.add(where, "holds nothing of use: get the extract again")
        return None
    if apart(extract.box, around.box_deg(within_m)):
        here = told(around.box_deg(0.0))
        problems.add(
            where,
            f"is an extract of {told(extract.box)}; the ride is at {here}: take the extract of "
            "the region the ride is in",
        )
        return None
    laid = _Laid(around)
    for item in extract.items:
        laid.lay(item)
    said = (*_edge(extract, around), *laid.said())
    return Found(
        source="osm", features=tuple(laid.features), credit=CREDIT, on=extract.on, said=said
    )


def _edge(extract: Extract, around: Around) -> tuple[str, ...]:
    """A remark where the extract ends within reach of the ride."""
    assert extract.box is not None
    w, s, e, n = around.box_deg(around.within_m)
    west, south, east, north = extract.box
    if west <= w and south <= s and e <= east and n <= north:
        return ()
    return (f"the extract ends within {around.within_m:g} m of the ride, at {told(extract.box)}: "
            "beyond its edge nothing is known",)  # fmt: skip


class _Laid:
    """Features as they are made, and what there is to say of them."""

    def __init__(self, around: Around) -> None:
        self.around = around
        self.features: list[Mapping[str, Any]] = []
        self.counted: Counter[str] = Counter()
        self.assumed: Counter[str] = Counter()
        self.incomplete: list[str] = []
        self.cliffs_m: list[float] = []
        self.flying: list[tuple[float, str]] = []

    def lay(self, item: Item) -> None:
        shape_deg = _shape(item)
        if shape_deg is None:
            return
        shape = self.around.in_metres(shape_deg)
        if "aeroway" in item.tags:
            self._aeroway(item, shape)
        if not self.around.touches(shape):
            return
        if item.tags.get("natural") == "cliff":
            self.cliffs_m.append(self.around.distance_m(shape))
        kind = ("point", "line", "area")[int(shapely.get_dimensions(shape))]
        if (found := meaning(item.tags, kind)) is not None:
            self._add(item, found, shape)

    def _add(self, item: Item, found: Meaning, shape: BaseGeometry) -> None:
        grown = shape.buffer(found.grow_m) if found.grow_m else shape
        if found.role == "wire":
            parts = self.around.spans(grown)
        elif found.whole or kind_of(grown) == 0:
            parts = [p for p in shapely.get_parts(grown) if kind_of(p) == kind_of(grown)]
        else:
            parts = self.around.cut(grown)
        if not parts:
            return
        self.counted[found.thing] += 1
        if found.assumed:
            self.assumed[found.assumed] += 1
        if item.missing:
            self.incomplete.append(item.label)
        name = {"name": printable(item.tags["name"])} if item.tags.get("name", "").strip() else {}
        for index, part in enumerate(parts):
            tail = f"-{index + 1}" if len(parts) > 1 else ""
            id_ = f"osm-{found.role}-{item.label}{tail}"
            says = {"id": id_, "role": found.role, **name, **found.says, "error_m": MAPPED_M}
            geometry = self.around.geometry(part)
            self.features.append({"type": "Feature", "properties": says, "geometry": geometry})

    def _aeroway(self, item: Item, shape: BaseGeometry) -> None:
        if item.tags["aeroway"] in ("aerodrome", "helipad", "heliport", "runway", "airstrip"):
            away_m = self.around.distance_m(shape)
            if away_m <= FLYING_M:
                name = f" ({printable(item.tags['name'])})" if "name" in item.tags else ""
                what = f"{printable(item.tags['aeroway'])}{name}"
                self.flying.append((away_m, f"{what}, {_far(away_m)} {self.around.bearing(shape)}"))

    def said(self) -> tuple[str, ...]:
        """Sentences: counts, what was assumed, what is not whole, what to ask about."""
        made = ["OpenStreetMap is drawn by whoever likes to: what it lacks may still stand there"]
        if self.counted:
            made.append("read: " + ", ".join(f"{n} {what}" for what, n in self.counted.items()))
        else:
            made.append(f"nothing of use within {self.around.within_m:g} m of the ride")
        made += [f"{n} {what}; measure those near the ride" for what, n in self.assumed.items()]
        if self.incomplete:
            first = ", ".join(self.incomplete[:5])
            made.append(f"{len(self.incomplete)} things are not whole in the extract ({first}): "
                        "the part it holds is drawn")  # fmt: skip
        if self.cliffs_m:
            made.append(f"{len(self.cliffs_m)} cliffs, the nearest {min(self.cliffs_m):.0f} m from "
                        "the ride: see that the terrain shows them")  # fmt: skip
        made += [f"{what} of the ride: ask before flying" for _, what in sorted(self.flying)]
        return tuple(made)


def kind_of(shape: BaseGeometry) -> int:
    """0 point, 1 line, 2 area."""
    return int(shapely.get_dimensions(shape))


def _far(metres: float) -> str:
    return f"{metres:.0f} m" if metres < 1000.0 else f"{metres / 1000.0:.1f} km"


LINES = ("highway", "barrier", "power", "aerialway", "railway", "waterway", "telecom")


def _shape(item: Item) -> BaseGeometry | None:
    """In degrees: a point, a line, an area; what is missing of it is left out."""
    if item.kind == "n":
        return shapely.Point(item.lines[0][0])
    if item.kind == "w":
        (line,) = item.lines
        area = item.tags.get("area") == "yes" or "building" in item.tags or _areal(item.tags)
        if item.closed and area and len(set(line)) > 2:
            return shapely.Polygon(line)
        return shapely.LineString(line) if len(set(line)) > 1 else shapely.Point(line[0])
    return _area(item.lines, item.inner)


def _areal(tags: Mapping[str, str]) -> bool:
    row = tags.get("natural") in ("tree_row", "cliff", "coastline")
    line = any(k in tags for k in LINES) and tags.get("waterway") != "riverbank"
    return not line and not row and tags.get("area") != "no"


def _area(outer: Any, inner: Any) -> BaseGeometry | None:
    """Rings joined of their pieces; a piece whose ring is not whole is closed straight across."""
    outside = _rings(outer)
    holes = shapely.union_all(_rings(inner, whole=True))
    area = shapely.union_all(outside).difference(holes)
    return None if area.is_empty else area


def _rings(lines: Any, *, whole: bool = False) -> list[BaseGeometry]:
    joined = shapely.line_merge(shapely.MultiLineString([list(line) for line in lines]))
    parts = [p for p in shapely.get_parts(joined) if len(p.coords) > 3 or not p.is_closed]
    rings = [p for p in parts if len(p.coords) > 2 and (p.is_closed or not whole)]
    return [shapely.make_valid(shapely.Polygon(p)) for p in rings]
