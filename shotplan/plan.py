"""Read a folder, fly its shots, judge them: the only module that knows all stages."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import NamedTuple, cast

import numpy as np

from shotplan import __version__, aircraft, rules
from shotplan.checks import CHECKS
from shotplan.errors import BadInput, Problems
from shotplan.files.geojson import read_geojson
from shotplan.files.tables import read_toml, sha256_of, table
from shotplan.files.words import shown
from shotplan.flight.braking import least_gap_when_braking
from shotplan.flight.follow import fly, fly_alike
from shotplan.model import combined, energy, judging, timeline
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array
from shotplan.model.corridor import corridor
from shotplan.model.day import Stands
from shotplan.model.disturbance import Spread, spread_of
from shotplan.model.flight import Stage, Style, Track, Wish
from shotplan.model.judged import Finding, Plan, ShotPlan
from shotplan.model.landmarks import landmarks
from shotplan.model.ride import Ride
from shotplan.model.rules import Rules
from shotplan.model.scene import Scene
from shotplan.model.shot import Outing, Shot
from shotplan.model.site import Site
from shotplan.model.verdict import worst
from shotplan.ride.along import downhill_rad, part, sampled
from shotplan.ride.clean import elevations_off
from shotplan.ride.disturb import Disturbed, disturb
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
from shotplan.styles import STYLES

SITE_FILE = "site.toml"
LEAD_IN_S = 5.0
SUBSTEP_S = 0.01  # half of what the definition allows: a set point that jumps wants it
MANY_SUBSTEP_S = 0.02  # of the disturbed rides
FIRST = slice(0, 1)
CAUTIONS = (
    "This was computed from what the site folder says; what nobody drew, measured or looked for "
    "is not in it.",
    "Walk the ride first, look for wires, and fly the easy version before the tight one.",
    "The rules of the place and the people who license flying there have the last word; the "
    "tool does not say that a flight is allowed or without danger.",
    "Stop as soon as anybody who is not part of the shoot comes near.",
)


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
    known = {style.name: style for style in STYLES}
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


def make(outing: Outing, progress: Callable[[str], None] = lambda _: None) -> Plan:
    """Fly and judge every shot of an outing. `progress` is told each shot's name as it starts."""
    shots: list[ShotPlan] = []
    clock = timeline.Clock(outing.day)
    light = timeline.light_of(outing.day, outing.rules, outing.site.frame)
    for index, shot in enumerate(outing.shots):
        progress(shot.name)
        scene = stage_scene(outing, shot, outing.day.start, outing.disturbance.rides)
        once = scene.first
        flight, lasts_s = energy.likely(once), float(np.ptp(once.track.ride.t_s))
        start = clock.shot(index, shot.takes, lasts_s, flight)
        clock.note_last_take_off(index, timeline.last_take_off(light, lasts_s, flight))
        shots.append(judge(replace(scene, start=start)))
    return Plan(
        outing=outing,
        shots=tuple(shots),
        verdict=worst(s.verdict for s in shots),
        version=__version__,
        cautions=CAUTIONS,
        timeline=clock.day(light),
        marks=landmarks(outing.site, outing.ride),
    )


def stage_scene(outing: Outing, shot: Shot, start: datetime, rides: int = 1) -> Scene:
    """Fly one shot over its part of the ride, its first take at `start`: the undisturbed ride,
    and as many disturbed ones as make `rides` in all."""
    site, aircraft = outing.site, outing.aircraft
    ridden = part(outing.ride, shot.from_m, shot.to_m, LEAD_IN_S, site.terrain.ground_m)
    stage = stage_of(site, ridden)
    many = disturbed(outing, ridden, rides)
    wind = wind_of(outing)
    wish = shot.style.place(many.ride, stage)
    once = fly(wish.samples(slice(None), FIRST), many.ride.rows(FIRST), aircraft, wind, SUBSTEP_S)
    gap = least_gap_when_braking(shot.style, once, stage, aircraft, wind)
    track = (
        once if rides == 1 else flown(wish, many, aircraft, wind, MANY_SUBSTEP_S).with_first(once)
    )
    more = track.xyz_m.shape[1] - len(gap)
    return replace(
        scene_of(outing, shot, many.ride, stage, wish, track),
        start=start,
        led=_led(outing, ridden) if rides > 1 else "",
        braking_gap_m=np.pad(gap, (0, more), constant_values=np.inf),
    )


def scene_of(
    outing: Outing, shot: Shot, ride: Ride, stage: Stage, wish: Wish, track: Track
) -> Scene:
    """A flight of an outing over its site, begun at the outing's hour; `ride` and `wish` with
    their lead-in."""
    return Scene(
        site=outing.site,
        day=outing.day,
        aircraft=outing.aircraft,
        rules=outing.rules,
        shot=shot,
        track=track,
        stage=stage,
        wish=wish.samples(slice(ride.first, ride.first + track.xyz_m.shape[1])),
        wind_m_s=outing.day.weather.wind_toward_m_s,
        start=outing.day.start,
    )


def wind_of(outing: Outing) -> Array:
    """The even wind it is flown in; none where it is not known."""
    known = outing.day.weather.wind_toward_m_s
    return np.zeros(3) if known is None else known


def stage_of(site: Site, ride: Ride) -> Stage:
    """What a style may know of the place, for the filmed part of `ride`."""
    launch = site.launch
    return Stage(
        ground_m=site.terrain.ground_m,
        places={i: p.xyz_m + np.array([0.0, 0.0, p.height_m]) for i, p in site.places.items()},
        feet={i: p.xyz_m for i, p in site.places.items()},
        launch_m=math.nan if launch is None else float(launch.xyz_m[2]),
        downhill_rad=downhill_rad(ride, site.terrain.ground_m),
        lasts_s=float(np.ptp(ride.t_s[ride.filming[0]])),
    )


def disturbed(outing: Outing, ride: Ride, rides: int) -> Disturbed:
    """`rides` rides out of one (row 0), as the site's settings spread them."""
    return disturb(ride, replace(outing.disturbance, rides=rides), _spread(outing, ride))


def _spread(outing: Outing, ride: Ride) -> Spread:
    leaves = outing.site.obstacles.leaves_over(ride.xyz_m[0])
    return spread_of(outing.disturbance, outing.aircraft, outing.day.weather, leaves)


def _led(outing: Outing, ride: Ride) -> str:
    """How far off a beacon leads, where one does."""
    if outing.aircraft.follows_by != "beacon":
        return ""
    off = _spread(outing, ride).follow_m
    span = f"{off.min():.1f} m" if np.ptp(off) < 0.1 else f"{off.min():.1f} to {off.max():.1f} m"
    return f"a beacon leads it: both receivers together are off by {span} each way"


def flown(
    wish: Wish, many: Disturbed, aircraft: Aircraft, wind_m_s: Array, substep_s: float
) -> Track:
    """The tracks of all rides, each with its own delay, stiffness and gusts."""
    return flown_side_by_side((wish,), many, aircraft, wind_m_s, substep_s)[0]


def flown_side_by_side(
    wishes: Sequence[Wish], many: Disturbed, aircraft: Aircraft, wind_m_s: Array, substep_s: float
) -> list[Track]:
    """The same after several wishes. What does not follow the rider is led astray by the
    aircraft's own error of place, which drifts too slowly to move it otherwise."""
    found: dict[int, Track] = {}
    for follows in (True, False):
        alike = [i for i, w in enumerate(wishes) if w.follows_rider is follows]
        if not alike:
            continue
        tracks = fly_alike(
            [wishes[i] for i in alike],
            many.ride,
            aircraft,
            wind_m_s,
            substep_s,
            delay_s=aircraft.response_delay_s * many.delay,
            response_rad_s=aircraft.response_rad_s * many.response,
            push_m_s2=many.push_m_s2,
        )
        if not follows:
            tracks = [_astray(track, many) for track in tracks]
        found.update(zip(alike, tracks, strict=True))
    return [found[i] for i in range(len(wishes))]


def _astray(track: Track, many: Disturbed) -> Track:
    first = many.ride.first
    error = many.own_error_m[:, first : first + track.xyz_m.shape[1]]
    return replace(track, xyz_m=track.xyz_m + error)


def findings(scene: Scene, of: Sequence[str] = ()) -> tuple[Finding, ...]:
    """What the checks say of a scene: those named, else all."""
    return tuple(judging.find(check, scene) for check in CHECKS if not of or check.id in of)


def judge(scene: Scene) -> ShotPlan:
    """Ask every check, merge what they say along the ride."""
    once = scene.first
    found = findings(scene)
    sample_verdict, sample_binding = judging.merge_samples(found, once.track.ride.along_m[0])
    return ShotPlan(
        scene=once,
        verdict=worst(f.verdict for f in found),
        findings=found,
        stretches=judging.stretches(once, found),
        sample_verdict=sample_verdict,
        sample_binding=sample_binding,
        rides=scene.track.ride.rides,
        ride_from_m=scene.shot.from_m,
        ride_to_m=scene.shot.to_m,
        duration_s=float(np.ptp(once.track.ride.t_s)),
        corridor=corridor(scene.track, by_clock=not (scene.wish and scene.wish.follows_rider)),
        combined=combined.sentence(
            (check.group, one.verdict) for check, one in zip(CHECKS, found, strict=True)
        ),
    )
