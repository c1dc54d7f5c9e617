"""The outing (all that a folder says) and its reading: the only module that knows all readers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple, cast

import numpy as np

from shotplan import __version__, aircraft, rules
from shotplan.errors import BadInput, Problems
from shotplan.files.disk import nothing_thrown_away
from shotplan.files.tables import laid_over, read_toml, sha256_of, table
from shotplan.files.words import listed, shown
from shotplan.model.aircraft import Aircraft
from shotplan.model.day import Day
from shotplan.model.disturbance import Disturbance
from shotplan.model.flight import Style
from shotplan.model.ride import Ride
from shotplan.model.rules import OWN, Rules
from shotplan.model.shot import Shot
from shotplan.model.site import Site
from shotplan.ride.along import sampled
from shotplan.ride.brakes import Braked
from shotplan.ride.clean import elevations_off
from shotplan.ride.path import there_and_back
from shotplan.ride.source import Line, Source, find, line_of
from shotplan.site.areas import water_of
from shotplan.site.build import cut_of, site_of
from shotplan.site.day import day_of, disturbance_of
from shotplan.site.drawn import Ground, drawn_in
from shotplan.site.errors import Off
from shotplan.site.ground import frame_of, terrain_of
from shotplan.site.inside import outside_of
from shotplan.site.reading import shot_wanted, site_file
from shotplan.site.roles import all_in_frame
from shotplan.site.shots import check_names, check_shot, shot_of
from shotplan.site.slips import suggestion
from shotplan.site.tables import ShotWanted, SiteFile, SiteTable
from shotplan.styles import listed as listed_styles

SITE_FILE = "site.toml"


@dataclass(frozen=True, kw_only=True)
class Outing:
    """All a folder says. `ride` is the whole cropped ride, one row, filming everywhere, t from 0;
    `inputs` file name -> sha256; `repairs` what reading mended or left out; `doubt` why it may be
    another place ("" no reason); `braked` where he brakes on some recordings of the ride only."""

    site: Site
    day: Day
    aircraft: Aircraft
    rules: Rules
    ride: Ride
    ride_source: str
    shots: tuple[Shot, ...]
    inputs: Mapping[str, str]
    repairs: tuple[str, ...] = ()
    doubt: str = ""
    disturbance: Disturbance = field(default_factory=Disturbance)
    braked: tuple[Braked, ...] = ()

    def __repr__(self) -> str:
        """One line: the site and its shots."""
        return f"<Outing {shown(self.site.name)}: {listed((s.name for s in self.shots), 'and')}>"

    @cached_property
    def fingerprint(self) -> str:
        """Four signs that stand on every sheet made of it: the program, every file that was read,
        what was changed since, and how many rides are flown."""
        made = (self.disturbance.rides, [shot.name for shot in self.shots])
        said = (__version__, sorted(self.inputs.items()), self.repairs, *made)
        return hashlib.sha256(repr(said).encode("utf-8")).hexdigest()[:4]

    @property
    def titled(self) -> str:
        """The site's name as pages have it: they say where the rules are somebody's own."""
        return f"{self.site.name} ({OWN})" if self.rules.own else self.site.name

    def with_shot(self, name: str, /, **keys: Any) -> Outing:
        """A new outing in which the shot `name` has other `keys`, as its `[[shot]]` table has
        them (`distance_m=8.0`, or `distance_ft=26.0`; `style="lead"` with all that style needs).

        Raises `BadInput` with everything that is wrong with them, as reading the file would.
        """
        problems = Problems()
        where = f"with_shot({shown(name)})"
        old = next((s for s in self.shots if s.name == name), None)
        if old is None:
            problems.add(
                where, f"there is no such shot; there are {listed(_names(self.shots), 'and')}"
            )
            raise BadInput(tuple(problems.found))
        others = [s for s in self.shots if s is not old]
        new = _changed(old, keys, self, where, problems)
        if new and new.name in _names(others):
            problems.add(where, f"name is {shown(new.name)}: another shot has that name")
        problems.raise_if_any()
        if new is None:
            raise AssertionError("a shot was refused and nobody said why")
        said = f"{old.name}: {', '.join(sorted(keys))} changed after reading"
        return replace(
            self,
            shots=tuple(new if s is old else s for s in self.shots),
            repairs=(*self.repairs, said) if keys else self.repairs,
        )


def read(
    folder: str | Path,
    *,
    allow_outside: bool = False,
    instead: Mapping[str, Path] = MappingProxyType({}),
) -> Outing:
    """Everything a site folder says; raises `BadInput` once with every problem in it. Files outside
    it are read only where that is allowed. `instead`: name of a site or ground file -> the draft
    that is read in its place."""
    with nothing_thrown_away():
        return _read(Path(folder), allow_outside, instead)


def _read(folder: Path, allow_outside: bool, instead: Mapping[str, Path]) -> Outing:
    problems = Problems()
    if not folder.is_dir():
        problems.add(str(folder), f"there is no such folder; give one that holds a {SITE_FILE}")
        problems.raise_if_any()
    raw = read_toml(instead.get(SITE_FILE, folder / SITE_FILE), problems, SITE_FILE)
    if raw is None:
        raise BadInput(tuple(problems.found))
    said = site_file(raw, SITE_FILE, problems)
    if not allow_outside and (outside := outside_of(said, folder, SITE_FILE)):
        raise BadInput((*problems.found, *outside))
    craft = aircraft.load(said.aircraft, folder, f"{SITE_FILE}: [aircraft]", problems)
    pack = said.site and rules.load(said.site.rules, folder, f"{SITE_FILE}: rules", problems)
    ground = drawn_in(folder, _ground(said), problems, instead.get(_ground(said)))
    shots = [(wanted, _style(wanted, problems)) for wanted in said.shots]
    check_names(said, SITE_FILE, shots, ground.places, problems)
    day = said.site and day_of(said, said.site, SITE_FILE, problems)
    laid = _lay(said, ground, folder, problems)
    lost = said.site.link_lost if said.site else "home"
    given = disturbance_of(said.disturbance)
    made = [
        shot_of(w, style, lost, laid.ride.along_m[0], given.rides, laid.remarks, problems)
        for w, style in shots
        if style and laid
    ]
    problems.raise_if_any()
    if not (craft and pack and day and laid):
        raise AssertionError("something could not be read and nobody said why")
    elsewhere = rules.elsewhere(laid.site.country, pack, SITE_FILE)
    return Outing(
        site=laid.site,
        day=day,
        aircraft=craft,
        rules=pack,
        ride=laid.ride,
        ride_source=laid.source.label,
        shots=tuple(made),
        inputs=_inputs(said, laid.source, folder),
        repairs=(*ground.remarks, *laid.remarks, *elsewhere),
        doubt=laid.doubt,
        disturbance=given,
        braked=laid.braked,
    )


def _ground(said: SiteFile) -> str:
    return said.site.ground if said.site else SiteTable.ground


class _Laid(NamedTuple):
    """The ride and the site around it."""

    site: Site
    ride: Ride
    source: Source
    remarks: list[str]
    doubt: str
    braked: tuple[Braked, ...]


def _lay(said: SiteFile, ground: Ground, folder: Path, problems: Problems) -> _Laid | None:
    """Frame, ride, terrain and site, in the order in which they need each other."""
    drawn = ground.drawn
    at = f"{SITE_FILE}: [ride]"
    lines = {d.id: d.shape.outer[0] for d in drawn if d.role == "ride"}
    wanted, says = said.ride, said.site
    source = find(wanted.path, lines, folder, at, problems) if wanted else None
    frame = frame_of(drawn, source.lonlat_deg if source else None, at, problems)
    if says is None or wanted is None or source is None or frame is None:
        return None
    line = line_of(source, frame, wanted.speed_m_s, wanted.from_m, wanted.to_m, at, problems)
    if line is None:
        return None
    laid = all_in_frame(drawn, frame)
    known = _known_to(line, wanted.error_m)
    terrain = terrain_of(
        frame=frame, elevation_m=says.terrain_m, error_m=says.terrain_error_m,
        file=folder / says.terrain if says.terrain else None,
        beyond=folder / says.surroundings if says.surroundings else None,
        water=water_of(laid, says.map_error_m, known.open_m),
        everything_m=np.concatenate([line.path.xy_m, *(d.shape.points for d in laid)]),
        problems=problems,
    )  # fmt: skip
    if terrain is None:
        return None
    once = sampled(line.path, terrain.ground_m)
    site = site_of(
        file=said,
        says=says,
        drawn=laid,
        sources=ground.sources,
        frame=frame,
        terrain=terrain,
        ride=once,
        cut=cut_of(wanted, line.whole_xy_m),
        off=known,
        where=SITE_FILE,
        problems=problems,
    )
    back = wanted.there_and_back
    ride = sampled(there_and_back(line.path), terrain.ground_m) if back else once
    off = elevations_off(line.elevation_m, terrain.ground_m(line.fixes_xy_m))
    doubt = off and f"{source.label}: {off}"
    remarks = [remark for remark in (*line.remarks, doubt, terrain.shows) if remark]
    return _Laid(site, ride, source, remarks, doubt, line.braked)


def _known_to(line: Line, said_m: float | None) -> Off:
    """How far the ride's line may be off: as said, else as such a source is."""
    if said_m is not None:
        return Off(said_m, said_m)
    return Off(line.error_m, line.leaves_error_m)


def _style(wanted: ShotWanted, problems: Problems) -> Style | None:
    known = listed_styles()
    name = wanted.says.style
    if name not in known:
        problems.add(wanted.where, f"style is {shown(name)}{suggestion(name, known)}")
        return None
    return cast(Style | None, table(known[name], wanted.style_keys, wanted.where, problems))


def _names(shots: Iterable[Shot]) -> list[str]:
    return [shot.name for shot in shots]


def _changed(
    old: Shot, keys: Mapping[str, Any], outing: Outing, where: str, problems: Problems
) -> Shot | None:
    """A shot with other keys, read as if its table in site.toml had them."""
    own = {
        "name": old.name,
        "style": old.style.name,
        "from_m": old.from_m,
        "to_m": old.to_m,
        "takes": old.takes,
        "stands": dict(old.stands.at),
        "link_lost": old.link_lost,
    }
    if keys.get("style", old.style.name) == old.style.name:
        own |= old.style.keys()
    wanted = shot_wanted(laid_over(own, keys), where, problems)
    style = _style(wanted, problems) if wanted else None
    if wanted is None or style is None:
        return None
    crew, places = [person.name for person in outing.day.crew], outing.site.places
    check_shot(wanted, style, crew, places, problems)
    along, rides = outing.ride.along_m[0], outing.disturbance.rides
    return shot_of(wanted, style, old.link_lost, along, rides, [], problems)


def _inputs(said: SiteFile, source: Source, folder: Path) -> dict[str, str]:
    """Every file of the folder that was read, and its hash."""
    site = said.site
    named = [SITE_FILE, str(said.aircraft.get("class", ""))]
    named += [site.ground, site.terrain, site.surroundings, site.rules] if site else []
    named += source.files
    rasters = (site.terrain, site.surroundings) if site else ()
    named += [str(Path(r).with_suffix(".prj")) for r in rasters if r]
    there = (n for n in dict.fromkeys(named) if n and (folder / n).is_file())
    return {name: sha256_of(folder / name) for name in there}
