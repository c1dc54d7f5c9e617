"""A site folder to start from: what can be found is written, the rest stands there as a comment.

Nothing is invented that could turn into a `go`: weather, survey, terrain and boundary that are not
given are left out, and what is left out is unknown. What had to be guessed says so in its name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files import together
from shotplan.files.bundled import aircraft_files, pack_files
from shotplan.files.forecast import read_forecast
from shotplan.files.geojson import Feature, read_geojson
from shotplan.files.raster import open_raster
from shotplan.files.words import MOMENT_EXAMPLE, printable, shown
from shotplan.intake import add, drawing, refusing, site_text
from shotplan.intake import surveys as surveyed
from shotplan.intake.drawing import PLACEHOLDER
from shotplan.intake.forecast import weather_at
from shotplan.intake.found import Found
from shotplan.intake.rides import Ride, named_rides, ride_of
from shotplan.intake.started import Started
from shotplan.intake.surveys import Surveys, Tell, prj

SITE, GROUND = "site.toml", "ground.geojson"
AIRCRAFT = "folding-light"
SPEED_M_S = 5.0  # of a line without times: a guess, and it says so
FILMED_M = 300.0  # of a long ride, to begin with


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
    surveys: Surveys = field(default_factory=Surveys)

    @property
    def files(self) -> tuple[Path, ...]:
        """Those that are given, the .prj beside a raster with them."""
        public = [path for paths in self.surveys.options.values() for path in paths]
        beside = [prj(self.terrain), prj(self.surveys.surroundings)]
        rides = (self.ride, *self.more_rides)
        every = (*rides, self.terrain, self.ground, self.forecast, *beside, *public)
        return tuple(p for p in every if p is not None)


def start(
    folder: Path,
    given: Given,
    problems: Problems,
    *,
    today: date | None = None,
    tell: Tell | None = None,
) -> Started | None:
    """The folder as it would be written; None where something is in the way, wrong or missing
    (problems say all of it). `today` is when surveys were read."""
    refusing.full(folder, given.files, problems)
    copies = _copies(folder, given, problems)
    features = _features(given, problems)
    ride = ride_of(given, features, copies, problems)
    began = _moment(given, ride, problems)
    refusing.unknown("--rules", given.rules, pack_files(), problems)
    if given.aircraft:
        refusing.unknown("--aircraft", given.aircraft, aircraft_files(), problems)
    refusing.around(given.around_m, features, problems)
    surveyed.there(given.surveys, problems)
    forecast = given.forecast and read_forecast(given.forecast, "--forecast", problems)
    if len(problems) or ride is None or began is None:
        return None
    found = surveyed.read(
        given.surveys, ride.lonlat_deg, problems, at=began, terrain=given.terrain, tell=tell
    )
    youngest = None if given.start else add.youngest(found, began)
    begins = youngest or began
    add.check_days(found, begins, problems, "--start")
    if len(problems):
        return None
    weather, told = weather_at(forecast, begins) if forecast else ({}, [])
    guesses = _guesses(given, ride, youngest, drawn_launch="launch" in _places(features))
    texts = _texts(folder, given, ride, begins, youngest, features, copies, found, weather)
    guesses += [*ride.said, *told]
    return _with_surveys(folder, given, found, texts, copies, tuple(guesses), today)


def _texts(
    folder: Path,
    given: Given,
    ride: Ride,
    began: datetime,
    youngest: datetime | None,
    features: tuple[Feature, ...],
    copies: Mapping[Path, str],
    found: Sequence[Found],
    weather: Mapping[str, float],
) -> dict[str, str]:
    """site.toml, and what is drawn where it is not copied as it is."""
    held_by = {str(f.properties["held_by"]) for f in features if "held_by" in f.properties}
    length_m = drawing.length_m(ride.lonlat_deg)
    placeholder = ride.path == PLACEHOLDER
    brought = next((str(one.keys["terrain"]) for one in found if "terrain" in one.keys), "")
    recorded = site_text.RECORDED if youngest is None else site_text.SURVEYED
    texts = {
        SITE: site_text.text(
            name=given.name or folder.resolve().name,
            rules=given.rules,
            aircraft=given.aircraft or AIRCRAFT,
            start=began,
            when=site_text.ASKED if given.start else recorded,
            terrain=copies[given.terrain] if given.terrain else brought,
            ground=copies[given.ground] if given.ground else GROUND,
            ride=ride.path,
            ride_is_placeholder=placeholder,
            speed_m_s=None if ride.timed else SPEED_M_S,
            spotters=tuple(sorted(held_by)),
            to_m=FILMED_M if length_m > FILMED_M + 1.0 else None,
            weather=weather,
        )
    }
    if not given.ground:
        texts[GROUND] = drawing.text(
            ride.lonlat_deg, given.around_m, placeholder=placeholder, more=ride.marked
        )
    elif given.around_m is not None:
        own = given.ground.read_text("utf-8-sig")
        texts[copies[given.ground]] = drawing.with_boundary(own, ride.lonlat_deg, given.around_m)
    return texts


def _with_surveys(
    folder: Path,
    given: Given,
    found: Sequence[Found],
    texts: dict[str, str],
    copies: Mapping[Path, str],
    guesses: tuple[str, ...],
    today: date | None,
) -> Started:
    """The folder with what surveys know of it laid into it."""
    ground = copies[given.ground] if given.ground else GROUND
    files: Mapping[str, bytes] = {}
    said: Mapping[str, Sequence[str]] = {}
    if found:
        own = texts.get(ground) or given.ground.read_text("utf-8-sig")  # type: ignore[union-attr]
        held = {n: together.seen(folder / n) for one in found for n in one.files}
        read = today or date.today()
        laid = add.lay(texts[SITE], own, found, given.surveys, add.NOTHING, held, read)
        texts |= {SITE: laid.site, ground: laid.ground}
        files, said = laid.files, laid.said
    return Started(
        texts=texts,
        copies={name: path for path, name in copies.items() if name not in texts},
        guesses=guesses,
        files=files,
        changed=frozenset({ground} if given.ground else ()),
        said=said,
    )


def _places(features: tuple[Feature, ...]) -> set[str]:
    return {f.id for f in features if f.properties.get("role") == "place"}


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
        beside = prj(given.terrain)
        here = given.terrain.parent.resolve() == folder.resolve()
        if beside is not None:
            plain.append((beside, beside.name if own or here else "terrain.prj"))
        open_raster(given.terrain, "--terrain", problems)
    for path, name in plain:
        names[path] = path.name if path.parent.resolve() == folder.resolve() else name
    return names


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


def _guesses(
    given: Given, ride: Ride, youngest: datetime | None, *, drawn_launch: bool
) -> list[str]:
    said = []
    if ride.path == PLACEHOLDER:
        where = "in the middle of the terrain" if given.terrain else "in the open sea"
        said.append(f"the ride is a placeholder {where}: record yours or draw it (shotplan draw)")
    elif not ride.timed:
        said.append(f"the ride has no times: {SPEED_M_S:g} m/s is a guess")
    if youngest is not None:
        said.append("the first shot begins on the day of the youngest survey, at the hour when the "
                    "ride was recorded, in UTC: change the day")  # fmt: skip
    elif not given.start:
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
