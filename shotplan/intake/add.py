"""What public surveys know, laid into a site folder, all of it or nothing.

What somebody wrote or drew stays as it is: keys of site.toml are added where there are none,
features of ground.geojson beside those that are there (`merging`). What was written is remembered
in `REMEMBERED`, so that the next reading knows its own.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any, NamedTuple

from shotplan.errors import Problems
from shotplan.files import geojson_kept, together
from shotplan.files.disk import read_text
from shotplan.files.geojson import LARGEST, read_geojson
from shotplan.files.tables import LARGEST_TOML
from shotplan.files.toml_kept import with_keys
from shotplan.files.words import one_line, shown
from shotplan.intake import surveys as public
from shotplan.intake.found import Found
from shotplan.intake.merging import Known, known_of, merged, named
from shotplan.intake.surveys import Surveys, Tell
from shotplan.intake.twice import RANKS
from shotplan.model.arrays import Array
from shotplan.units import other_spellings

SITE, GROUND = "site.toml", "ground.geojson"
REMEMBERED = ".written-by-shotplan-surveys.json"
INSTEAD = {"terrain": "terrain_m"}  # a key that says the same in another way
MOST_CREDIT = 300


class Remembered(NamedTuple):
    """Of what was written: features, and files by name."""

    features: Known
    files: Mapping[str, str]


NOTHING = Remembered({}, {})


class Laid(NamedTuple):
    """The folder's texts with what was found in them; `files` beside them; `said` title -> lines
    of each source."""

    site: str
    ground: str
    files: Mapping[str, bytes]
    said: Mapping[str, Sequence[str]]


@dataclass(frozen=True)
class Added:
    """What is to be put into `folder`, in that order; `was` what its files held when read."""

    folder: Path
    files: Mapping[str, bytes]
    was: Mapping[str, str | None]
    beside: frozenset[str]  # of the files, those that nobody writes by hand
    said: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def write(self) -> None:
        """All or nothing; the last ground.geojson and site.toml stay beside the new ones."""
        keep = [n for n in self.files if n not in self.beside]
        together.put(self.folder, self.files, was=self.was, keep=keep)

    def try_in(self, empty: Path) -> Path:
        """A folder that reads as this one will, to be thrown away."""
        for one in self.folder.parent.resolve().iterdir():
            if one.name != self.folder.resolve().name:
                (empty / one.name).symlink_to(one)
        trial = empty / self.folder.resolve().name
        trial.mkdir()
        for one in self.folder.resolve().iterdir():
            if one.name not in self.files:
                (trial / one.name).symlink_to(one)
        for name, data in self.files.items():
            (trial / name).write_bytes(data)
        return trial


def add(
    folder: Path,
    surveys: Surveys,
    ride_lonlat_deg: Array,
    problems: Problems,
    *,
    start: datetime,
    country: str,
    today: date,
    ground_m: tuple[float, float] | None = None,
    tell: Tell | None = None,
) -> Added | None:
    """What `surveys` know about the ride `(k, 2)` of a site that reads well, whose ground lies
    between the two of `ground_m` (None: not known everywhere); None where one of them is refused
    (problems say why)."""
    held = _held(folder, problems)
    if held is None:
        return None
    drawn = held.drawn.features
    there = [
        Found(source=s, features=tuple(named(p.value, p.id) for p in drawn if p.of(s)))
        for s in RANKS
    ]
    found = public.read(
        surveys, ride_lonlat_deg, problems, at=start, country=country, held=there, tell=tell,
        terrain=folder / held.terrain if held.terrain else None, ground_m=ground_m,
    )  # fmt: skip
    check_days(found, start, problems)
    if len(problems):
        return None
    names = {n for one in found for n in one.files}
    was = held.was | {n: together.seen(folder / n) for n in names}
    laid = lay(held.site, held.ground, found, surveys, held.known, was, today)
    files = {**laid.files, held.name: laid.ground.encode("utf-8"), SITE: laid.site.encode("utf-8")}
    return Added(folder, files, was, frozenset(laid.files), laid.said)


class _Folder(NamedTuple):
    site: str
    name: str  # of what is drawn
    ground: str
    drawn: geojson_kept.Parts
    known: Remembered
    was: dict[str, str | None]
    terrain: str


def _held(folder: Path, problems: Problems) -> _Folder | None:
    """What the folder says now, with what each file held."""
    site = _text(folder / SITE, LARGEST_TOML, SITE, problems)
    if site is None:
        return None
    says = tomllib.loads(site.removeprefix("\ufeff"))
    name = str(says.get("ground", GROUND))
    if Path(name).name != name:
        problems.add(f"{SITE}: ground", f"is {shown(name)}; a survey is added only to a file that "
                     "lies in the site folder itself")  # fmt: skip
        return None
    was = {n: together.seen(folder / n) for n in (SITE, name, REMEMBERED)}
    ground = geojson_kept.EMPTY
    if was[name] is not None:
        if read_geojson(folder / name, name, problems) is None:
            return None
        ground = _text(folder / name, LARGEST, name, problems) or ground
    drawn = geojson_kept.parts(ground.removeprefix("\ufeff"))
    known = _remembered(folder / REMEMBERED)
    return _Folder(site, name, ground, drawn, known, was, str(says.get("terrain", "")))


def _text(path: Path, most: int, where: str, problems: Problems) -> str | None:
    """The text with its line ends and byte order mark as they are."""
    if read_text(path, most, where, problems) is None:
        return None
    return path.read_bytes().decode("utf-8")


def youngest(found: Sequence[Found], start: datetime) -> datetime | None:
    """The day of the last survey at the hour of `start`, where that is later."""
    last = max((one.on for one in found if one.on is not None), default=start.date())
    moved = start.replace(year=last.year, month=last.month, day=last.day)
    return moved if moved > start else None


def check_days(
    found: Sequence[Found], start: datetime, problems: Problems, where: str = f"{SITE}: start"
) -> None:
    """Nobody has looked at anything later than the day of the flight."""
    late = [one for one in found if one.on is not None and one.on > start.date()]
    for one in late:
        problems.add(
            where,
            f"is {start.date()}, and {one.source} was looked at on {one.on}: give the day of the "
            "flight, which comes after",
        )


def lay(
    site: str,
    ground: str,
    found: Sequence[Found],
    surveys: Surveys,
    known: Remembered,
    was: Mapping[str, str | None],
    today: date,
) -> Laid:
    """The texts of site.toml and of what is drawn, with what was found; `was` the digest of each
    file of the folder by name (None: not there)."""
    drawn = geojson_kept.parts(ground.removeprefix("\ufeff"))
    features, members = drawn.features, dict(drawn.members)
    sources = {str(s["source"]): s for s in json.loads(members.get("sources", "[]"))}
    rasters: dict[str, bytes] = {}
    said: dict[str, list[str]] = {}
    remembered = known.features
    for one in found:
        done = merged(features, one, remembered)
        keys = _keys(tomllib.loads(site.removeprefix("\ufeff")), one, known.files, was)
        site = with_keys(site, keys.new, f"what {one.source} says")
        features, remembered = done.features, done.known
        rasters |= keys.files
        if one.features or one.keys or one.source not in sources:
            older = sources.get(one.source, {})
            sources[one.source] = _source(one, surveys, today, older.get("credit", ""))
        said[_title(one, surveys)] = [*one.said, *done.said, *keys.said]
    members["sources"] = json.dumps(list(sources.values()), ensure_ascii=False)
    note = {
        "features": {i: sorted(d) for i, d in remembered.items()},
        "files": {**known.files, **{n: together.digest(d) for n, d in rasters.items()}},
    }
    first = {REMEMBERED: (json.dumps(note, indent=1) + "\n").encode("utf-8")}
    return Laid(site, geojson_kept.whole(members, features), first | rasters, said)


def _source(one: Found, surveys: Surveys, today: date, credited: str) -> dict[str, str]:
    """Its entry; where the survey names nobody, whom somebody `credited` by hand stays."""
    says = {"source": one.source, "credit": one_line(one.credit)[:MOST_CREDIT] or credited,
            "on": one.on.isoformat() if one.on else "", "read": today.isoformat(),
            "file": surveys.files(one.source)}  # fmt: skip
    return {k: v for k, v in says.items() if v}


def _title(one: Found, surveys: Surveys) -> str:
    return f"{one.source}: {surveys.files(one.source)}"


class _Keys(NamedTuple):
    """What goes into site.toml, the files beside it, and what does not go in."""

    new: dict[str, Any]
    files: Mapping[str, bytes]
    said: tuple[str, ...]


def _keys(
    says: Mapping[str, Any], one: Found, ours: Mapping[str, str], was: Mapping[str, str | None]
) -> _Keys:
    """Those keys that the file does not have. Where it names another raster, or a file of
    somebody's own has the name, the raster and all that is said of it are left out."""
    for key, value in one.keys.items():
        if value not in one.files:
            continue
        other = next((k for k in (key, INSTEAD.get(key, key)) if says.get(k, value) != value), None)
        if other is not None:
            line = f"{SITE} says {other} = {shown(says[other])}: kept, {one.source}'s left out"
            return _Keys({}, {}, (line,))
        now = was.get(str(value))
        if now not in (None, ours.get(str(value)), together.digest(one.files[str(value)])):
            line = f"{value} is a file of your own: kept, {one.source}'s left out"
            return _Keys({}, {}, (line,))
    new, stays = {}, []
    for key, value in one.keys.items():
        given = next((k for k in (key, *other_spellings(key)) if k in says), None)
        if given is None:
            new[key] = value
        elif given != key or says[key] != value:
            line = f"{SITE} says {given} = {shown(says[given])}: kept"
            stays.append(f"{line}; {one.source} would say {key} = {shown(value)}")
    return _Keys(new, one.files, tuple(stays))


def _remembered(path: Path) -> Remembered:
    """What was written before; a file that cannot be read makes nothing ours."""
    try:
        raw = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return NOTHING
    files = raw.get("files") if isinstance(raw, dict) else None
    known = {str(n): str(d) for n, d in files.items()} if isinstance(files, dict) else {}
    return Remembered(known_of(raw), known)
