"""A site folder to start from: what can be found is written, the rest stands there as a comment.

Nothing is invented that could turn into a `go`: weather, survey, terrain and boundary that are not
given are left out, and what is left out is unknown. What had to be guessed says so in its name.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.bundled import aircraft_files, pack_files
from shotplan.files.forecast import read_forecast
from shotplan.files.geojson import Feature, read_geojson
from shotplan.files.raster import open_raster
from shotplan.files.words import MOMENT_EXAMPLE, listed, printable, shown
from shotplan.intake import drawing, site_text
from shotplan.intake.drawing import PLACEHOLDER
from shotplan.intake.forecast import weather_at
from shotplan.intake.rides import Ride, named_rides, ride_of

SITE, GROUND = "site.toml", "ground.geojson"
AIRCRAFT = "folding-light"
SPEED_M_S = 5.0  # of a line without times: a guess, and it says so
FILMED_M = 300.0  # of a long ride, to begin with
LARGEST_AROUND_M = 2000.0


@dataclass(frozen=True, kw_only=True)
class Given:
    """What is at hand; "" and None: not given. `around_m`: draw the boundary as a rectangle that
    far around the ride; `more_rides`: other recordings of the same."""

    name: str = ""
    rules: str = ""
    aircraft: str = ""
    start: str = ""
    ride: Path | None = None
    terrain: Path | None = None
    ground: Path | None = None
    more_rides: tuple[Path, ...] = ()
    forecast: Path | None = None
    around_m: float | None = None

    @property
    def files(self) -> tuple[Path, ...]:
        """Those that are given, the .prj beside a terrain with them."""
        beside = _prj(self.terrain)
        others = (self.terrain, beside, self.ground, self.forecast)
        return tuple(p for p in (self.ride, *self.more_rides, *others) if p is not None)


@dataclass(frozen=True)
class Started:
    """A folder not yet written: `texts` by name, `copies` name -> where it is copied from;
    `guesses` to be replaced or confirmed, a sentence each."""

    texts: Mapping[str, str]
    copies: Mapping[str, Path]
    guesses: tuple[str, ...] = field(default=())

    def write(self, folder: Path) -> None:
        """Into a folder in which none of it is yet; what is there already is never touched."""
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in self.texts.items():
            with (folder / name).open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        for name, source in self.copies.items():
            if not _same(folder / name, source):
                with source.open("rb") as read, (folder / name).open("xb") as written:
                    shutil.copyfileobj(read, written)


def start(folder: Path, given: Given, problems: Problems) -> Started | None:
    """The folder as it would be written; None where something is in the way, wrong or missing
    (problems say all of it)."""
    _refuse_full(folder, given, problems)
    copies = _copies(folder, given, problems)
    features = _features(given, problems)
    ride = ride_of(given, features, copies, problems)
    began = _moment(given, ride, problems)
    _known("--rules", given.rules, pack_files(), problems)
    if given.aircraft:
        _known("--aircraft", given.aircraft, aircraft_files(), problems)
    _check_around(given, problems)
    forecast = given.forecast and read_forecast(given.forecast, "--forecast", problems)
    if len(problems) or ride is None or began is None:
        return None
    weather, told = weather_at(forecast, began) if forecast else ({}, [])
    places = {f.id for f in features if f.properties.get("role") == "place"}
    held_by = {str(f.properties["held_by"]) for f in features if "held_by" in f.properties}
    length_m = drawing.length_m(ride.lonlat_deg)
    texts = {
        SITE: site_text.text(
            name=given.name or folder.resolve().name,
            rules=given.rules,
            aircraft=given.aircraft or AIRCRAFT,
            start=began,
            start_is_recorded=not given.start,
            terrain=copies[given.terrain] if given.terrain else "",
            ground=copies[given.ground] if given.ground else GROUND,
            ride=ride.path,
            ride_is_placeholder=ride.path == PLACEHOLDER,
            speed_m_s=None if ride.timed else SPEED_M_S,
            spotters=tuple(sorted(held_by)),
            to_m=FILMED_M if length_m > FILMED_M + 1.0 else None,
            weather=weather,
        )
    }
    if not given.ground:
        texts[GROUND] = drawing.text(
            ride.lonlat_deg, given.around_m, placeholder=ride.path == PLACEHOLDER, more=ride.marked
        )
    return Started(
        texts,
        {name: path for path, name in copies.items()},
        (*_guesses(given, ride, drawn_launch="launch" in places), *ride.said, *told),
    )


def _refuse_full(folder: Path, given: Given, problems: Problems) -> None:
    """A folder may hold the given files already, and nothing else."""
    if folder.exists() and not folder.is_dir():
        problems.add(str(folder), "is a file; name a folder that is empty or not there yet")
        return
    own = {p.resolve() for p in given.files}
    held = sorted(folder.iterdir()) if folder.is_dir() else []
    there = [p.name for p in held if p.resolve() not in own]
    if there:
        more = f" and {len(there) - 1} more" if len(there) > 1 else ""
        problems.add(
            str(folder),
            f"holds {shown(there[0])}{more}; nothing is overwritten: name a folder that is empty "
            "or not there yet",
        )


def _copies(folder: Path, given: Given, problems: Problems) -> dict[Path, str]:
    """Given file -> its name in the folder: its own where it lies there or tells the place (.hgt),
    else a plain one."""
    names: dict[Path, str] = {}
    plain = [(path, f"{stem}{path.suffix.lower()}") for path, stem in named_rides(given)]
    plain += [(given.ground, GROUND)] if given.ground else []
    if given.terrain is not None:
        suffix = given.terrain.suffix.lower()
        own = suffix == ".hgt"
        plain.append((given.terrain, given.terrain.name if own else f"terrain{suffix}"))
        beside = _prj(given.terrain)
        here = given.terrain.parent.resolve() == folder.resolve()
        if beside is not None:
            plain.append((beside, beside.name if own or here else "terrain.prj"))
        open_raster(given.terrain, "--terrain", problems)
    for path, name in plain:
        names[path] = path.name if path.parent.resolve() == folder.resolve() else name
    return names


def _prj(terrain: Path | None) -> Path | None:
    """The .prj beside an ASCII grid."""
    if terrain is None or terrain.suffix.lower() != ".asc":
        return None
    return next((p for s in (".prj", ".PRJ") if (p := terrain.with_suffix(s)).is_file()), None)


def _same(one: Path, other: Path) -> bool:
    return one.exists() and one.samefile(other)


def _features(given: Given, problems: Problems) -> tuple[Feature, ...]:
    if given.ground is None:
        return ()
    return read_geojson(given.ground, "--ground", problems) or ()


def _moment(given: Given, ride: Ride | None, problems: Problems) -> datetime | None:
    """When the first shot begins: as given, else when the ride was recorded."""
    wanted = f"a date and time with its offset, such as {MOMENT_EXAMPLE}"
    if given.start:
        try:
            moment = datetime.fromisoformat(given.start)
        except ValueError:
            moment = None
        if moment is None or moment.utcoffset() is None:
            problems.add("--start", f"got {shown(given.start)}; wanted {wanted}")
            return None
        return moment
    if ride is None:
        return None
    if ride.began is None:
        problems.add("--start", f"is missing and no recording says when: give {wanted}")
    return ride.began


def _known(option: str, name: str, bundled: Mapping[str, Path], problems: Problems) -> None:
    if name not in bundled:
        got = f"got {shown(name)}" if name else "is missing, and nothing else says which"
        problems.add(option, f"{got}; wanted one of {listed(bundled)}")


def _check_around(given: Given, problems: Problems) -> None:
    around = given.around_m
    if around is None:
        return
    if not 0.0 < around <= LARGEST_AROUND_M:
        problems.add("--boundary-around", f"got {around:g}; wanted more than 0 and at most "
                     f"{LARGEST_AROUND_M:g} m")  # fmt: skip
    if given.ground is not None:
        problems.add("--boundary-around", "is given beside --ground: draw the boundary there")


def _guesses(given: Given, ride: Ride, *, drawn_launch: bool) -> list[str]:
    said = []
    if ride.path == PLACEHOLDER:
        where = "in the middle of the terrain" if given.terrain else "in the open sea"
        said.append(f"the ride is a placeholder {where}: record yours or draw it (shotplan draw)")
    elif not ride.timed:
        said.append(f"the ride has no times: {SPEED_M_S:g} m/s is a guess")
    if not given.start:
        said.append("the first shot begins when the ride was recorded, in UTC: change the day")
    if not given.aircraft:
        said.append(f"the aircraft is taken as the bundled {AIRCRAFT}: yours will differ")
    if given.ground is None and not any(f["properties"]["id"] == "launch" for f in ride.marked):
        said.append("the launch is drawn where the ride begins")
    elif given.ground is not None and not drawn_launch:
        said.append(f"{printable(given.ground.name)} draws no place with the id launch")
    if given.around_m is not None:
        said.append(
            "the boundary is a rectangle around the ride: whether you may fly there, nobody asked"
        )
    if not given.name:
        said.append("the site has the name of its folder")
    said.append("you ride and steer alone: name who else is there")
    return said
