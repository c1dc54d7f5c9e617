"""Read a folder into an outing: the only module that knows all readers."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple, cast

import numpy as np

from shotplan import aircraft, rules, styles
from shotplan.errors import BadInput, Problems
from shotplan.files.geojson import read_geojson
from shotplan.files.tables import read_toml, sha256_of, table
from shotplan.files.words import shown
from shotplan.model.day import Stands
from shotplan.model.flight import Style
from shotplan.model.ride import Ride
from shotplan.model.rules import Rules
from shotplan.model.shot import Outing, Shot
from shotplan.model.site import Site
from shotplan.ride.along import sampled
from shotplan.ride.clean import elevations_off
from shotplan.ride.path import there_and_back
from shotplan.ride.source import Source, find, line_of
from shotplan.site.areas import water_of
from shotplan.site.build import cut_of, site_of
from shotplan.site.day import day_of, disturbance_of
from shotplan.site.ground import frame_of, terrain_of
from shotplan.site.reading import site_file
from shotplan.site.roles import Drawn, read_features
from shotplan.site.slips import suggestion
from shotplan.site.tables import ShotWanted, SiteFile, SiteTable

SITE_FILE = "site.toml"


def read(folder: Path) -> Outing:
    """Everything a site folder says; raises `BadInput` once with every problem in it."""
    problems = Problems()
    if not folder.is_dir():
        problems.add(str(folder), f"there is no such folder; give one that holds a {SITE_FILE}")
        problems.raise_if_any()
    raw = read_toml(folder / SITE_FILE, problems, SITE_FILE)
    if raw is None:
        raise BadInput(tuple(problems.found))
    said = site_file(raw, SITE_FILE, problems)
    craft = aircraft.load(said.aircraft, folder, f"{SITE_FILE}: [aircraft]", problems)
    pack = said.site and rules.load(said.site.rules, folder, f"{SITE_FILE}: rules", problems)
    drawn, places, missing = _drawn(said, folder, problems)
    shots = [(wanted, _style(wanted, problems)) for wanted in said.shots]
    _check_names(said, shots, places, problems)
    day = said.site and day_of(said, said.site, SITE_FILE, problems)
    laid = _lay(said, drawn, folder, problems)
    made = [_shot(w, style, said, laid, problems) for w, style in shots if style and laid]
    problems.raise_if_any()
    if not (craft and pack and day and laid):
        raise AssertionError("something could not be read and nobody said why")
    given = disturbance_of(said.disturbance)
    return Outing(
        site=laid.site,
        day=day,
        aircraft=craft,
        rules=pack,
        ride=laid.ride,
        ride_source=laid.source.label,
        shots=tuple(made),
        inputs=_inputs(said, laid.source, folder),
        repairs=(*missing, *laid.remarks, *_elsewhere(laid.site.country, pack)),
        disturbance=given,
    )


def _elsewhere(country: str, pack: Rules) -> tuple[str, ...]:
    """A remark where the site's country is not one of the pack's, or was not said."""
    if not country:
        return (
            f"{SITE_FILE} names no country: whether {pack.id} is the rule pack of the place was "
            "not checked",
        )
    if country in pack.countries:
        return ()
    own = pack.countries if len(pack.countries) <= 3 else (f"{len(pack.countries)} others",)
    return (f"the site is in {country}; {pack.id} is for {', '.join(own)}: other rules hold there",)


class _Laid(NamedTuple):
    """The ride and the site around it."""

    site: Site
    ride: Ride
    source: Source
    remarks: list[str]


def _drawn(
    said: SiteFile, folder: Path, problems: Problems
) -> tuple[tuple[Drawn, ...], list[str] | None, tuple[str, ...]]:
    """What is drawn on the ground; the places' ids, sound or not (None where the file cannot be
    read: then nobody knows); a remark where there is no such file."""
    name = said.site.ground if said.site else SiteTable.ground
    if name == SiteTable.ground and not (folder / name).exists():
        return (), [], (f"there is no {name}: nothing is drawn, nothing surveyed",)
    features = read_geojson(folder / name, name, problems)
    if features is None:
        return (), None, ()
    places = [f.id for f in features if f.properties.get("role") == "place"]
    return read_features(features, name, problems), places, ()


def _lay(
    said: SiteFile, drawn: tuple[Drawn, ...], folder: Path, problems: Problems
) -> _Laid | None:
    """Frame, ride, terrain and site, in the order in which they need each other."""
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
    laid = tuple(d.in_frame(frame) for d in drawn)
    terrain = terrain_of(
        frame=frame,
        elevation_m=says.terrain_m,
        file=folder / says.terrain if says.terrain else None,
        water=water_of(laid),
        everything_m=np.concatenate([line.path.xy_m, *(d.shape.points for d in laid)]),
        where=says.terrain,
        problems=problems,
    )
    if terrain is None:
        return None
    once = sampled(line.path, terrain.ground_m)
    site = site_of(
        file=said,
        says=says,
        drawn=laid,
        frame=frame,
        terrain=terrain,
        ride=once,
        cut=cut_of(wanted, line.whole_xy_m),
        ride_error_m=source.error_m if wanted.error_m is None else wanted.error_m,
        where=SITE_FILE,
        problems=problems,
    )
    both_ways = wanted.there_and_back
    ride = sampled(there_and_back(line.path), terrain.ground_m) if both_ways else once
    off = elevations_off(line.elevation_m, terrain.ground_m(line.fixes_xy_m))
    return _Laid(site, ride, source, [*line.remarks, *([f"{source.label}: {off}"] if off else [])])


def _style(wanted: ShotWanted, problems: Problems) -> Style | None:
    known = styles.listed()
    name = wanted.says.style
    if name not in known:
        problems.add(wanted.where, f"style is {shown(name)}{suggestion(name, known)}")
        return None
    return cast(Style | None, table(known[name], wanted.style_keys, wanted.where, problems))


def _check_names(
    said: SiteFile,
    shots: list[tuple[ShotWanted, Style | None]],
    places: list[str] | None,
    problems: Problems,
) -> None:
    """Every place that is named must be drawn, every person must be of the crew."""
    crew = [c.name for c in said.crew]
    asked = [(f"{SITE_FILE}: [[crew]] {c.name}", "stands", c.stands) for c in said.crew if c.stands]
    for wanted, style in shots:
        asked += [(wanted.where, "the style", place) for place in (style.places() if style else ())]
        asked += [(wanted.where, "stands", place) for place in wanted.says.stands.values()]
        for name in wanted.says.stands:
            if name not in crew:
                problems.add(
                    wanted.where,
                    f"stands names {shown(name)}, not of the crew{suggestion(name, crew)}",
                )
    if said.weather and said.weather.measured_at != "forecast":
        asked.append((f"{SITE_FILE}: [weather]", "measured_at", said.weather.measured_at))
    for where, key, place in asked:
        if places is not None and place not in places:
            problems.add(where, f"{key} names the place {shown(place)}{suggestion(place, places)}")


def _shot(
    wanted: ShotWanted, style: Style, said: SiteFile, laid: _Laid, problems: Problems
) -> Shot:
    says, along = wanted.says, laid.ride.along_m[0]
    length_m = float(along[-1])
    to_m = length_m if says.to_m is None else min(says.to_m, length_m)
    if says.to_m is not None and says.to_m > length_m + 1.0:
        laid.remarks.append(
            f"{says.name}: to_m is {says.to_m:g}; the ride ends at {length_m:.1f} m"
        )
    if says.from_m >= length_m:
        problems.add(wanted.where, f"from_m is {says.from_m:g}; the ride is {length_m:.1f} m long")
    elif says.from_m < to_m and np.sum((along >= says.from_m) & (along <= to_m)) < 2:
        problems.add(wanted.where, f"from {says.from_m:g} m to {to_m:g} m there is nothing to film")
    link_lost = says.link_lost or (said.site.link_lost if said.site else "home")
    return Shot(
        name=says.name,
        style=style,
        from_m=says.from_m,
        to_m=to_m,
        takes=says.takes,
        stands=Stands(at=dict(says.stands)),
        link_lost=link_lost,
    )


def _inputs(said: SiteFile, source: Source, folder: Path) -> dict[str, str]:
    """Every file of the folder that was read, and its hash."""
    site = said.site
    named = [SITE_FILE, str(said.aircraft.get("class", ""))]
    named += [site.ground, site.terrain, site.rules] if site else []
    named += [source.label] if source.file else []
    named += [str(Path(site.terrain).with_suffix(".prj"))] if site and site.terrain else []
    files = [n for n in dict.fromkeys(named) if n and (folder / n).is_file()]
    return {name: sha256_of(folder / name) for name in files}
