"""Public surveys at hand, and what they know of the place about a ride."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.disk import is_file
from shotplan.files.raster import open_raster
from shotplan.files.words import listed, printable, shown
from shotplan.intake.found import Found
from shotplan.intake.twice import told_apart
from shotplan.model.arrays import Array

POINTS = (".las", ".laz")
SURROUNDINGS = "surroundings"
LONGEST = 60  # of the names of a source's files

Tell = Callable[[str], None]


@dataclass(frozen=True, kw_only=True)
class Surveys:
    """Files of public surveys; None and (): not given. A folder among `lidar` is all tiles in it,
    `lidar_crs` what they do not say of themselves. `canopy` holds heights above the ground,
    `surface` elevations of what stands on it."""

    lidar: tuple[Path, ...] = ()
    lidar_crs: str = ""
    canopy: Path | None = None
    surface: Path | None = None
    osm: Path | None = None
    zones: Path | None = None
    surroundings: Path | None = None

    @property
    def options(self) -> Mapping[str, tuple[Path, ...]]:
        """Those given, by the option that gives them."""
        named = {"--canopy": self.canopy, "--surface": self.surface, "--osm": self.osm,
                 "--zones": self.zones, "--surroundings": self.surroundings}  # fmt: skip
        single = {option: (path,) for option, path in named.items() if path is not None}
        return {"--lidar": self.lidar, **single} if self.lidar else single

    @property
    def steps(self) -> int:
        """How often `read` tells that it begins with something."""
        tiles = sum(len(_tiles(path)) for path in self.lidar)
        return tiles + len(self.options)

    def files(self, source: str) -> str:
        """The names of a source's files, in a line."""
        words = {"zone": ("zones",), "canopy": ("canopy", "surface")}.get(source, (source,))
        paths = [path for word in words for path in self.options.get(f"--{word}", ())]
        told = ", ".join(printable(p.name) for p in paths)
        if len(told) <= LONGEST:
            return told
        return f"{printable(paths[0].name)} and {len(paths) - 1} more"


def read(
    surveys: Surveys,
    ride_lonlat_deg: Array,
    problems: Problems,
    *,
    at: datetime,
    country: str = "",
    terrain: Path | None = None,
    ground_m: tuple[float, float] | None = None,
    held: Sequence[Found] = (),
    tell: Tell | None = None,
) -> tuple[Found, ...]:
    """What each knows about the ride `(k, 2)`, the most exact first; what stands in two of them, or
    in what is `held` already, is left to the better. `terrain` is the ground under a surface,
    `ground_m` its lowest and highest elevation. Those that cannot be used are not among them
    (problems say why)."""
    if not there(surveys, problems):
        return ()
    tell = tell or (lambda _: None)
    found = [
        *_lidar(surveys, ride_lonlat_deg, problems, tell),
        *_canopy(surveys, ride_lonlat_deg, problems, terrain, tell),
        *_osm(surveys, ride_lonlat_deg, problems, tell),
        *_zones(surveys, ride_lonlat_deg, problems, at, country, ground_m, tell),
        *_surroundings(surveys, problems, tell),
    ]
    sound = [one for one in found if one is not None]
    again = {one.source for one in sound}
    older = [one for one in held if one.source not in again]
    return told_apart([*older, *sound], ride_lonlat_deg)[len(older) :]


def there(surveys: Surveys, problems: Problems) -> bool:
    """Whether every file is there, so that nobody waits a minute to hear that one is not."""
    before = len(problems)
    for option, paths in surveys.options.items():
        for path in paths:
            if option == "--lidar" and path.is_dir():
                if not _tiles(path):
                    problems.add(option, f"no file in {shown(str(path))} ends in {listed(POINTS)}")
            else:
                is_file(path, option, problems)
    if surveys.canopy is not None and surveys.surface is not None:
        problems.add("--surface", "is given beside --canopy: keep one")
    if surveys.lidar_crs and not surveys.lidar:
        problems.add("--lidar-crs", "is given without --lidar")
    return len(problems) == before


def _tiles(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    return sorted(p for p in path.iterdir() if p.suffix.lower() in POINTS)


def _lidar(surveys: Surveys, ride: Array, problems: Problems, tell: Tell) -> list[Found | None]:
    if not surveys.lidar:
        return []
    from shotplan.intake.lidar.read import read_lidar

    paths = [tile for path in surveys.lidar for tile in _tiles(path)]
    return [read_lidar(paths, ride, problems, crs=surveys.lidar_crs, progress=tell)]


def _canopy(
    surveys: Surveys, ride: Array, problems: Problems, terrain: Path | None, tell: Tell
) -> list[Found | None]:
    if surveys.canopy is None and surveys.surface is None:
        return []
    from shotplan.intake.canopy import read_canopy

    tell("canopy")
    if surveys.canopy is not None:
        return [read_canopy(surveys.canopy, ride, problems)]
    if surveys.surface is None or terrain is None:
        problems.add("--surface", "holds elevations; the ground under it is wanted, too: a terrain "
                     "raster (--terrain, or terrain in site.toml)")  # fmt: skip
        return [None]
    return [read_canopy(surveys.surface, ride, problems, terrain=terrain)]


def _osm(surveys: Surveys, ride: Array, problems: Problems, tell: Tell) -> list[Found | None]:
    if surveys.osm is None:
        return []
    from shotplan.intake.osm.read import read_osm

    tell("map data")
    return [read_osm(surveys.osm, ride, problems)]


def _zones(
    surveys: Surveys,
    ride: Array,
    problems: Problems,
    at: datetime,
    country: str,
    ground_m: tuple[float, float] | None,
    tell: Tell,
) -> list[Found | None]:
    if surveys.zones is None:
        return []
    from shotplan.intake.zones import read_zones

    tell("zones")
    zones = read_zones(surveys.zones, ride, problems, at=at, country=country, ground_m=ground_m)
    return [zones]


def _surroundings(surveys: Surveys, problems: Problems, tell: Tell) -> list[Found | None]:
    """A wider raster, copied as it is, the .prj of an ASCII grid with it."""
    path = surveys.surroundings
    if path is None:
        return []
    tell(SURROUNDINGS)
    if open_raster(path, "--surroundings", problems) is None:
        return [None]
    suffix = path.suffix.lower()
    own = suffix == ".hgt"  # its name tells the place
    name = path.name if own else f"{SURROUNDINGS}{suffix}"
    files = {name: path.read_bytes()}
    beside = prj(path)
    if beside is not None:
        files[f"{SURROUNDINGS}.prj"] = beside.read_bytes()
    said = f"{printable(path.name)} tells sight, wind and sun beyond the terrain"
    return [Found(source=SURROUNDINGS, files=files, keys={SURROUNDINGS: name}, said=(said,))]


def prj(raster: Path | None) -> Path | None:
    """The .prj beside an ASCII grid."""
    if raster is None or raster.suffix.lower() != ".asc":
        return None
    return next((p for s in (".prj", ".PRJ") if (p := raster.with_suffix(s)).is_file()), None)
