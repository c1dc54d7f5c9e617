"""OpenStreetMap extracts (.osm.pbf .osm .osm.bz2) to plain records. The only osmium.

Places of all nodes are kept while reading, 16 bytes each, by the library; nothing else of what
lies elsewhere is kept. Of buildings and roads only the first, middle and last node are asked
whether they are near: none is longer than `FAR_DEG`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, is_file
from shotplan.files.words import one_line

LARGEST = 3000 * MEGABYTE
FAR_DEG = 0.3
SHORT = ("building", "highway")
KEYS = (
    "power", "aerialway", "building", "natural", "landuse", "barrier", "highway", "amenity",
    "leisure", "aeroway", "boundary", "man_made", "waterway", "railway", "tourism", "telecom",
    "communication", "military",
)  # fmt: skip
SUFFIXES = (".osm", ".pbf", ".bz2", ".gz")
Box = tuple[float, float, float, float]
Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Item:
    """`kind` n, w or r. `lines`: places (lon, lat) in degrees that the file knows: one of one for a
    node, one for a way, one per outer member for a relation; `inner` its holes. `missing`: nodes
    or members that the file names but does not hold."""

    kind: str
    id: int
    tags: Mapping[str, str]
    lines: tuple[tuple[Point, ...], ...]
    inner: tuple[tuple[Point, ...], ...] = ()
    closed: bool = False
    missing: int = 0

    @property
    def label(self) -> str:
        """`w1016`."""
        return f"{self.kind}{self.id}"


@dataclass(kw_only=True)
class Extract:
    """`box`: west, south, east, north that the file says it holds, or that was seen; None where it
    is empty. `on`: its date, else that of the newest edit seen."""

    items: list[Item] = field(default_factory=list)
    box: Box | None = None
    on: date | None = None


def read_extract(
    path: Path, near: Box, far: Box, far_key: str, where: str, problems: Problems
) -> Extract | None:
    """What has one of `KEYS` and touches `near` (what has `far_key`: `far`); None where the file
    cannot be read."""
    import osmium

    if not is_file(path, where, problems):
        return None
    if path.suffix.lower() not in SUFFIXES:
        problems.add(where, "wanted an extract of OpenStreetMap: .osm.pbf, .osm or .osm.bz2")
        return None
    if path.stat().st_size > LARGEST:
        problems.add(where, "is larger than 3 GB: take the extract of a smaller region")
        return None
    try:
        return _Reading(str(path), near, far, far_key).done()
    except (RuntimeError, OSError, ValueError, osmium.InvalidLocationError) as error:
        problems.add(
            where,
            f"is not an extract that can be read, or is cut short: {one_line(str(error))}; "
            "get it again",
        )
        return None


class _Reading:
    """One file, twice: first which ways the relations name, then everything."""

    def __init__(self, path: str, near: Box, far: Box, far_key: str) -> None:
        self.path, self.near, self.far, self.far_key = path, near, far, far_key
        self.made = Extract()
        self.seen: Box | None = None
        self.newest: date | None = None
        self.members: dict[int, tuple[tuple[Point, ...], int]] = {}

    def done(self) -> Extract:
        import osmium

        relations = list(self._relations())
        wanted = {ref for _, _, outer, inner in relations for ref in (*outer, *inner)}
        nodes_of_use = osmium.filter.KeyFilter(*KEYS)
        nodes_of_use.enable_for(osmium.osm.NODE)
        every = osmium.FileProcessor(self.path, osmium.osm.NODE | osmium.osm.WAY)
        every = every.with_locations("flex_mem").with_filter(nodes_of_use)
        header = every.header
        thing: Any
        for thing in every:
            if thing.is_node():
                self._node(thing)
            else:
                self._way(thing, wanted)
        for relation in relations:
            self._relation(*relation)
        box = header.box()
        if box.valid():
            low, high = box.bottom_left, box.top_right
            self.seen = (low.lon, low.lat, high.lon, high.lat)
        self.made.box = self.seen
        self.made.on = _day(header.get("osmosis_replication_timestamp")) or self.newest
        return self.made

    def _relations(self) -> Iterator[tuple[int, dict[str, str], list[int], list[int]]]:
        import osmium

        areas = osmium.FileProcessor(self.path, osmium.osm.RELATION)
        r: Any
        for r in areas.with_filter(osmium.filter.KeyFilter(*KEYS)):
            if r.tags.get("type") in ("multipolygon", "boundary"):
                ways = [(m.ref, m.role) for m in r.members if m.type == "w"]
                outer = [ref for ref, role in ways if role != "inner"]
                yield r.id, dict(r.tags), outer, [ref for ref, role in ways if role == "inner"]

    def _note(self, thing: Any, place: Point) -> None:
        lon, lat = place
        w, s, e, n = self.seen or (lon, lat, lon, lat)
        self.seen = (min(w, lon), min(s, lat), max(e, lon), max(n, lat))
        if thing.timestamp.year > 2000:
            day = thing.timestamp.date()
            self.newest = day if self.newest is None else max(day, self.newest)

    def _box(self, tags: Mapping[str, str] | Any) -> Box:
        return self.far if self.far_key in tags else self.near

    def _node(self, node: Any) -> None:
        if not node.location.valid():
            return
        place = (node.location.lon, node.location.lat)
        self._note(node, place)
        if _inside(place, self._box(node.tags)):
            tags = dict(node.tags)
            self.made.items.append(Item(kind="n", id=node.id, tags=tags, lines=((place,),)))

    def _way(self, way: Any, wanted: set[int]) -> None:
        useful = any(key in way.tags for key in KEYS)
        if not (useful or way.id in wanted) or not len(way.nodes):
            return
        box = self._box(way.tags)
        if way.id not in wanted and any(k in way.tags for k in SHORT):
            ends = (way.nodes[i].location for i in (0, len(way.nodes) // 2, len(way.nodes) - 1))
            known = [(p.lon, p.lat) for p in ends if p.valid()]
            if known and not any(_inside(p, _grown(box)) for p in known):
                self._note(way, known[0])
                return
        line = tuple((n.lon, n.lat) for n in way.nodes if n.location.valid())
        missing = len(way.nodes) - len(line)
        if way.id in wanted:
            self.members[way.id] = (line, missing)
        if not line:
            return
        for place in (line[0], line[-1]):
            self._note(way, place)
        if useful and _touches(line, box):
            self.made.items.append(
                Item(kind="w", id=way.id, tags=dict(way.tags), lines=(line,),
                     closed=way.is_closed() and len(way.nodes) > 3, missing=missing)
            )  # fmt: skip

    def _relation(self, id_: int, tags: dict[str, str], outer: list[int], inner: list[int]) -> None:
        known = [self.members.get(ref, ((), 1)) for ref in outer]
        lines = tuple(line for line, _ in known if len(line) > 1)
        holes = tuple(
            line for ref in inner if len(line := self.members.get(ref, ((), 1))[0]) > 1
        )  # a hole that is not known whole stays filled
        if lines and _touches([p for line in lines for p in line], self._box(tags)):
            missing = sum(count for _, count in known)
            self.made.items.append(
                Item(kind="r", id=id_, tags=tags, lines=lines, inner=holes, closed=True,
                     missing=missing)
            )  # fmt: skip


def _inside(place: Point, box: Box) -> bool:
    return box[0] <= place[0] <= box[2] and box[1] <= place[1] <= box[3]


def _grown(box: Box) -> Box:
    return box[0] - FAR_DEG, box[1] - FAR_DEG, box[2] + FAR_DEG, box[3] + FAR_DEG


def _touches(line: Any, box: Box) -> bool:
    """Whether the box round the line meets `box`."""
    lon, lat = [p[0] for p in line], [p[1] for p in line]
    across = min(lon) <= box[2] and max(lon) >= box[0]
    return bool(across and min(lat) <= box[3] and max(lat) >= box[1])


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat((text or "")[:10])
    except ValueError:
        return None
