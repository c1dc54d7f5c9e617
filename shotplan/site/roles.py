"""What may be drawn in ground.geojson: every role, its geometry, its properties."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Annotated, Any, Literal

from shotplan.errors import Problems
from shotplan.files.kinds import Above, Date, Error, Ground, Size, between
from shotplan.files.tables import nearest_name, table
from shotplan.files.words import listed, shown
from shotplan.model.frame import Frame
from shotplan.model.site import Kind
from shotplan.site.shapes import Shape, moved, shape

if TYPE_CHECKING:
    from shotplan.files.geojson import Feature


@dataclass(frozen=True, kw_only=True)
class Common:
    """What every feature may say of itself."""

    name: str = ""
    error_m: Error | None = None
    height_error_m: Error = 1.0
    on: Date | None = None

    @property
    def seen_on(self) -> str:
        """`on` as text; "" not said."""
        return self.on.isoformat() if self.on else ""


@dataclass(frozen=True, kw_only=True)
class Boundary(Common):
    """Where the aircraft may be."""


@dataclass(frozen=True, kw_only=True)
class SurveyedArea(Common):
    """Where somebody looked."""

    looked_for: tuple[Kind, ...] | None = None
    least_height_m: Annotated[float, between(0, 100)] | None = None


@dataclass(frozen=True, kw_only=True)
class Tree(Common):
    """A crown on a trunk."""

    height_m: Size
    radius_m: Size
    base_m: Above = 0.0
    trunk_radius_m: Size = 0.3


@dataclass(frozen=True, kw_only=True)
class Wood(Common):
    """Trees too many to draw."""

    height_m: Size
    base_m: Above = 0.0


@dataclass(frozen=True, kw_only=True)
class Building(Common):
    """A block."""

    height_m: Size


@dataclass(frozen=True, kw_only=True)
class Pole(Common):
    """A mast, a lamp post, the post of a sign."""

    height_m: Size
    radius_m: Size = 0.3


@dataclass(frozen=True, kw_only=True)
class Wire(Common):
    """A power line, a cable; `height_m` one for all or one per vertex."""

    height_m: Size | tuple[Size, ...] | None = None
    sag_m: Above | None = None
    kind: Literal["local", "transmission"] | None = None


@dataclass(frozen=True, kw_only=True)
class People(Common):
    """Where people who are not part of the shoot may be."""

    state: Literal["may-pass", "held", "closed"] = "may-pass"
    held_by: str = ""


@dataclass(frozen=True, kw_only=True)
class KeepOut(Common):
    """Where the aircraft may not be."""

    floor_m: Annotated[float, between(-1000, 20000)] | None = None
    ceiling_m: Annotated[float, between(-1000, 20000)] | None = None
    reason: str = ""


@dataclass(frozen=True, kw_only=True)
class WildlifeArea(Common):
    """Animals not to be disturbed, in a season given as MM-DD or all year."""

    from_: str = ""
    to: str = ""
    stand_off_m: Annotated[float, between(0, 5000)] = 100.0


@dataclass(frozen=True, kw_only=True)
class WaterArea(Common):
    """A lake, a river, the sea."""

    level_m: Ground | None = None


@dataclass(frozen=True, kw_only=True)
class PlacePoint(Common):
    """A launch, a lookout, a thing to film round."""

    height_m: Above = 0.0


@dataclass(frozen=True, kw_only=True)
class RideLine(Common):
    """A line to ride."""


POINT, LINE, POLYGON = ("Point",), ("LineString",), ("Polygon",)
ANY = ("Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon")
ROLES: dict[str, tuple[type[Common], tuple[str, ...]]] = {
    "boundary": (Boundary, POLYGON),
    "surveyed": (SurveyedArea, POLYGON),
    "tree": (Tree, POINT),
    "wood": (Wood, POLYGON),
    "building": (Building, POLYGON),
    "pole": (Pole, POINT),
    "wire": (Wire, LINE),
    "people": (People, ANY),
    "keep-out": (KeepOut, POLYGON),
    "wildlife": (WildlifeArea, ANY),
    "water": (WaterArea, POLYGON),
    "place": (PlacePoint, POINT),
    "ride": (RideLine, LINE),
}


OTHER_WORDS: tuple[tuple[str, str], ...] = (
    (
        "cliff rock rocks crag face edge slope hill gully ravine ditch terrain ground",
        "rock and slopes come from the terrain file: they are not drawn",
    ),
    (
        "fence wall hedge",
        "draw its outline as a building (a hedge: as a wood), or pace it: [[beside]] with role "
        '"building" or "tree", from_m and to_m',
    ),
    ("post mast pylon lamp sign column tower", 'wanted "pole"'),
    ("cable line rope powerline power-line overhead-line", 'wanted "wire"'),
    ("house hut barn shed roof bridge", 'wanted "building"'),
    ("bush shrub", 'wanted "tree", or "wood" for many'),
    ("forest copse grove scrub", 'wanted "wood"'),
    (
        "path footpath trail road track beach parking car-park crowd public",
        'wanted "people", where others may pass, or "ride" for the line you ride',
    ),
    ("route", 'wanted "ride"'),
    ("lake river sea pond stream", 'wanted "water"'),
    (
        "launch lookout spot point marker viewpoint take-off takeoff home pilot spotter",
        'wanted "place"; the launch is the place with the id "launch"',
    ),
    ("area site limit limits border", 'wanted "boundary", or "surveyed" for where somebody looked'),
    ("zone no-fly nofly forbidden restricted", 'wanted "keep-out"'),
    ("animals birds bird nest cattle sheep", 'wanted "wildlife"'),
)  # what people write for a role -> what to do


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One feature, read: `says` is the role's record, `shape` in longitude, latitude or, after
    `all_in_frame`, in metres."""

    id: str
    role: str
    where: str
    shape: Shape
    says: Any


def all_in_frame(drawn: Sequence[Drawn], frame: Frame) -> tuple[Drawn, ...]:
    """The same features in frame metres, all vertices turned at once."""
    shapes = moved([d.shape for d in drawn], frame.xy_m)
    return tuple(replace(d, shape=turned) for d, turned in zip(drawn, shapes, strict=True))


def read_features(features: Iterable[Feature], file: str, problems: Problems) -> tuple[Drawn, ...]:
    """Every feature that can be understood; problems say why the others cannot."""
    drawn: list[Drawn] = []
    for feature in features:
        where = f"{file}: {feature.label}"
        found = _read_one(feature, where, problems)
        if found is not None:
            drawn.append(found)
    boundaries = [d.id for d in drawn if d.role == "boundary"]
    if len(boundaries) > 1:
        problems.add(file, f"{len(boundaries)} boundaries ({', '.join(boundaries)}); wanted one")
    return tuple(drawn)


def _read_one(feature: Feature, where: str, problems: Problems) -> Drawn | None:
    said = dict(feature.properties)
    role = said.pop("role", None)
    if not isinstance(role, str) or role not in ROLES:
        problems.add(where, _wrong_role(role))
        return None
    schema, kinds = ROLES[role]
    where = f"{where}: {role}"
    if feature.geometry_type not in kinds:
        _wrong_geometry(feature.geometry_type, role, said, where, problems)
        return None
    made = shape(feature.geometry_type, feature.coordinates, where, problems)
    says = table(schema, said, where, problems)
    if says is None or made is None:
        return None
    _check(says, made, where, problems)
    return Drawn(id=feature.id, role=role, where=where, shape=made, says=says)


def _wrong_role(role: object) -> str:
    got = str(role).casefold().replace("_", "-").replace(" ", "-")
    other = next((f"; {advice}" for words, advice in OTHER_WORDS if got in words.split()), "")
    hint = other or nearest_name(str(role), ROLES) or f"; wanted one of {', '.join(ROLES)}"
    return f"got the role {shown(role)}{hint}"


def _wrong_geometry(
    kind: str, role: str, said: Mapping[str, object], where: str, problems: Problems
) -> None:
    """One problem where its properties are those of a role that is drawn so: then the role is the
    slip. Else what is wrong with them as well."""
    schema, kinds = ROLES[role]
    like = [
        name
        for name, (other, drawn_as) in ROLES.items()
        if kind in drawn_as and table(other, said, where, Problems()) is not None
    ]
    hint = f"; a {kind} with these properties may be {listed(like)}" if like else ""
    problems.add(where, f"got a {kind}; wanted a {' or '.join(kinds)}{hint}")
    if not like:
        table(schema, said, where, problems)


def _check(says: Common, drawn: Shape, where: str, problems: Problems) -> None:
    """What one property says of another."""
    if isinstance(says, Tree | Wood) and says.base_m >= says.height_m:
        problems.add(
            where, f"base_m is {says.base_m:g}, not below height_m {says.height_m:g}: swapped?"
        )
    if isinstance(says, Wire) and isinstance(says.height_m, tuple):
        count = len(drawn.outer[0])
        if len(says.height_m) != count:
            problems.add(
                where,
                f"height_m has {len(says.height_m)} values for {count} vertices; "
                "wanted one for all, or one each",
            )
    if isinstance(says, People) and says.state == "held" and not says.held_by:
        problems.add(where, "state is held; held_by must say which of the crew holds them")
    if isinstance(says, KeepOut) and None not in (says.floor_m, says.ceiling_m):
        low, high = says.floor_m or 0.0, says.ceiling_m or 0.0
        if low >= high:
            problems.add(where, f"floor_m {low:g} is not below ceiling_m {high:g}")
    if isinstance(says, WildlifeArea):
        for key, day in (("from", says.from_), ("to", says.to)):
            if day and not _is_date(f"2024-{day}"):
                problems.add(where, f"{key} is {shown(day)}; wanted month and day like 04-15")
        if bool(says.from_) != bool(says.to):
            problems.add(where, "a season needs both from and to; without both it is all year")


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return len(text) == len("2024-06-02")
