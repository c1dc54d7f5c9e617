"""What any map program is shown of a plan: the shots as flown undisturbed, and what is around."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shotplan.aids.last_call import last_calls
from shotplan.files.placed import Folder, Placed, Value
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.kernels.rides.runs import runs
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.site import Site
from shotplan.model.verdict import Verdict
from shotplan.output import measures, reasons, words
from shotplan.output.take_along import surroundings
from shotplan.output.words import plain

HANGS_M = 0.1  # it has not moved
STEP = 5  # every half second; tracks.csv has every tenth
COMPUTED = "computed, not a permission"
HEIGHTS = (
    "Elevations are metres above the terrain's own zero, whose datum is not known here: a map "
    "program with other ground draws the flight too high or too low by the difference. Height "
    "above launch is what the pilot's display shows; height above ground is straight down."
)


def folders(plan: Plan) -> tuple[Folder, ...]:
    """The shots first, then places, areas and obstacles; positions in degrees."""
    return (
        *(_shot(plan, shot, i) for i, shot in enumerate(plan.shots)),
        *surroundings.folders(plan),
    )


def verdict(found: Verdict) -> str:
    """`no-go (computed, not a permission)`."""
    return f"{found.word} ({COMPUTED})"


def _shot(plan: Plan, shot: ShotPlan, index: int) -> Folder:
    letter, name = words.letter(index), plain(shot.scene.shot.name)
    frame = plan.outing.site.frame
    told = (
        verdict(shot.verdict),
        plain(shot.scene.shot.style.words()),
        f"{shot.ride_from_m:.0f} to {shot.ride_to_m:.0f} m of the ride, {shot.duration_s:.0f} s; "
        "drawn is the undisturbed flight",
    )
    things = (
        *_stretches(shot, f"{letter} {shot.verdict.word}: {name}", letter, frame),
        _rider(shot, letter, frame),
        *_tight(shot, letter, frame),
        *_calls(plan, shot, letter, frame),
    )
    return Folder(f"{letter} {shot.verdict.word}: {name}", "\n".join(told), things)


def _stretches(shot: ShotPlan, title: str, letter: str, frame: Frame) -> Iterator[Placed]:
    """The aircraft's way, cut where the verdict changes; parts share the sample they meet at. A
    part over which it hangs in one place is a point."""
    scene, track = shot.scene, shot.scene.track
    last = len(track.ride.t_s) - 1
    for low, high in runs(shot.sample_verdict):
        part = _thinned(min(low, last - 1), min(high, last))
        found = Verdict(int(shot.sample_verdict[low]))
        decide = dict.fromkeys(i for i in shot.sample_binding[low:high] if i >= 0)
        xyz, t = track.xyz_m[0, part], track.ride.t_s[part]
        along = track.ride.along_m[0, part]
        hangs = bool(np.ptp(xyz, axis=0).max() < HANGS_M)
        kept = slice(0, 1) if hangs else slice(None)
        yield Placed(
            kind=f"track-{found.word}",
            name=f"{letter} {found.word}, {'hangs here, ' * hangs}{_metres(along)}",
            words=_flown_words(shot, [shot.findings[i] for i in decide], letter, found, part),
            shape="point" if hangs else "line",
            parts=(frame.lonlat_deg(xyz[kept, :2]),),
            z_m=(xyz[kept, 2],),
            heights="elevation",
            values={
                "shot": plain(scene.shot.name),
                "verdict": found.word,
                "decided_by": ", ".join(shot.findings[i].check for i in decide),
                "time_s": t.tolist(),
                "ride_m": along.tolist(),
                "elevation_m": xyz[:, 2].tolist(),
                "height_m": scene.height_m[0, part].tolist(),
                "height_above_launch_m": scene.height_above_launch_m[0, part].tolist(),
            },
            moments=tuple(scene.moments[i] for i in part)[kept],
            track=title,
        )


def _flown_words(
    shot: ShotPlan, decide: list[Finding], letter: str, found: Verdict, part: list[int]
) -> str:
    """What is said of a stretch: its word, what decides it, its heights."""
    scene, track = shot.scene, shot.scene.track
    t, z = track.ride.t_s[part], track.xyz_m[0, part, 2]
    above, high_m = scene.height_above_launch_m[0, part], scene.height_m[0, part]
    return "\n".join(
        (
            f"{letter}, {_metres(track.ride.along_m[0, part])} of the ride, {t[0]:.1f} to "
            f"{t[-1]:.1f} s: {verdict(found)}",
            *([f"what decides: {' '.join(f.of.question for f in decide)}"] if decide else []),
            f"height above launch {_span(above)}, above the ground below {_span(high_m)}; "
            f"elevation {_span(z)}",
        )
    )


def _metres(along_m: Array) -> str:
    """`212 to 230 m`; of a part too short to say so where it is."""
    low, high = f"{along_m[0]:.0f}", f"{along_m[-1]:.0f}"
    return f"at {low} m" if low == high else f"{low} to {high} m"


def _thinned(low: int, high: int) -> list[int]:
    """Every `STEP`-th sample from `low` to `high`, both of them too; never fewer than two."""
    kept = list(range(low, high, STEP))
    return [*kept, high] if kept else [high, high]


def _span(values: Array) -> str:
    """`4.0 m to 6.1 m`; what is not known says so."""
    known = values[np.isfinite(values)]
    if not len(known):
        return "not known"
    low, high = say.metres(float(known.min())), say.metres(float(known.max()))
    gaps = "" if len(known) == len(values) else " (not known all the way)"
    return f"{low}{gaps}" if low == high else f"{low} to {high}{gaps}"


def _rider(shot: ShotPlan, letter: str, frame: Frame) -> Placed:
    ride = shot.scene.track.ride
    part = _thinned(0, len(ride.t_s) - 1)
    z = np.where(ride.ground_known[0, part], ride.xyz_m[0, part, 2], np.nan)
    return Placed(
        kind="ride",
        name=f"{letter} rider",
        words=f"the rider while {letter} is filmed, {shot.ride_from_m:.0f} to "
        f"{shot.ride_to_m:.0f} m of the ride",
        shape="line",
        parts=(frame.lonlat_deg(ride.xyz_m[0, part, :2]),),
        z_m=(z,),
        values={
            "shot": plain(shot.scene.shot.name),
            "time_s": ride.t_s[part].tolist(),
            "ride_m": ride.along_m[0, part].tolist(),
            "elevation_m": z.tolist(),
        },
        moments=tuple(shot.scene.moments[i] for i in part),
        track="the rider, as filmed",
    )


def _tight(shot: ShotPlan, letter: str, frame: Frame) -> Iterator[Placed]:
    """The places worth a look, tagged as on the map; the tightest place to obstacles always."""
    pins = words.pins(shot, letter)
    for found in words.ranked(shot):
        if found.told.at is not None and (found.check in pins or found.check == "clearance"):
            yield _pin(shot, found, pins.get(found.check, f"{letter} tightest"), frame)


def _pin(shot: ShotPlan, found: Finding, tag: str, frame: Frame) -> Placed:
    one = found.told
    at = one.at
    assert at is not None
    launch = shot.scene.site.launch is not None
    told = (
        found.of.titled,
        f"{verdict(found.verdict)}: {measures.distance(found)}",
        measures.where(at, launch=launch),
        f"elevation {say.metres(at.xyz_m[2])}",
        plain(found.reason),
        *filter(None, (words.to_do(found),)),
    )
    values: dict[str, Value] = {
        "shot": plain(shot.scene.shot.name),
        "check": found.check,
        "verdict": found.verdict.word,
        "value": one.value,
        "limit": one.limit,
        "margin": one.margin,
        "unit": one.unit,
        "thing": plain(one.thing),
        "time_s": at.time_s,
        "ride_m": at.ride_m,
        "elevation_m": at.xyz_m[2],
        "height_m": at.height_m,
        "height_above_launch_m": at.height_above_launch_m,
    }
    return Placed(
        kind=f"pin-{found.verdict.word}",
        name=f"{tag} {found.verdict.word}{_what(found, shot.scene.site)}",
        words="\n".join(told),
        shape="point",
        parts=(frame.lonlat_deg(np.array([at.xyz_m[:2]])),),
        z_m=(np.array([at.xyz_m[2]]),),
        heights="elevation",
        values=values,
    )


def _what(found: Finding, site: Site) -> str:
    """`: it hits the bent thorn`."""
    if found.verdict == Verdict.GO:
        return ""
    if found.verdict == Verdict.UNKNOWN:
        return f": {found.of.question}"
    return f": {reasons.what(found, site)}"


def _calls(plan: Plan, shot: ShotPlan, letter: str, frame: Frame) -> Iterator[Placed]:
    """Where the rider is when stop must have been called before a tight place."""
    ride = shot.scene.track.ride
    for call in last_calls(shot, plan.marks):
        if call.before_start:
            continue
        at = min(int(np.searchsorted(ride.t_s, call.mark_s)), len(ride.t_s) - 1)
        yield Placed(
            kind="call",
            name=f"{call.code(letter)} last call: {plain(call.thing)}",
            words=words.called(call, letter),
            shape="point",
            parts=(frame.lonlat_deg(ride.xyz_m[0, at : at + 1, :2]),),
            z_m=(ride.xyz_m[0, at : at + 1, 2],),
            values={
                "shot": plain(shot.scene.shot.name),
                "check": call.check,
                "thing": plain(call.thing),
                "mark_m": call.mark_m,
                "tight_m": call.tight_m,
                "seconds_before": call.seconds_before,
            },
        )
