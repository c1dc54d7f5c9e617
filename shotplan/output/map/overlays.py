"""What lies under or over the flights, each a sheet of its own: where it may come down, where it
is over all rides, the way home, what the watchers see, last calls."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from shotplan.aids.last_call import last_calls
from shotplan.judging.corridor import SHARES
from shotplan.judging.judged import Finding, Plan, ShotPlan
from shotplan.kernels.rides.runs import runs
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.output import measures, words
from shotplan.output.map.shapes import Info, Shape, Sheet, simplified
from shotplan.output.watch.watched import Sight, Watched, watched
from shotplan.output.words import plain

OFF_M = 0.1  # a track is drawn to so much: own choice
WAYS = 4  # of the way home, from all along the track
SHORT_S = 0.3  # a view lost or won for less is not drawn


def below(plan: Plan) -> tuple[Sheet, ...]:
    """What lies under the flights."""
    eyes: dict[str, list[Shape]] = {}
    for i, shot in enumerate(plan.shots):
        for one in watched(shot.scene):
            eyes.setdefault(one.who, []).extend(seen(shot, words.letter(i), one))
    return (
        Sheet("where it may come down", tuple(_fall(plan)), on=False),
        Sheet("where it flies over all rides", tuple(_corridors(plan)), on=False),
        Sheet("the way home, left alone", tuple(_homes(plan)), on=False),
        *(Sheet(f"what {who} sees", tuple(shapes), on=False) for who, shapes in eyes.items()),
    )


def above(plan: Plan) -> tuple[Sheet, ...]:
    """What lies over the flights."""
    return (
        Sheet("what else the checks draw", tuple(_others(plan))),
        Sheet("last calls", tuple(_calls(plan))),
    )


def _fall(plan: Plan) -> Iterator[Shape]:
    for _, letter, found in _found(plan, "falls"):
        rows = (("nearest", measures.distance(found)), ("why", plain(found.reason)))
        info = Info(f"{letter}: where it may come down if it stops flying", rows)
        for one in found.drawings:
            yield Shape("area", "fall", (simplified(one.outline, OFF_M),), info=info)


def _corridors(plan: Plan) -> Iterator[Shape]:
    """Where the aircraft is over all rides, the widest bands below."""
    for band in reversed(range(len(SHARES))):
        for i, shot in enumerate(plan.shots):
            if shot.corridor is not None:
                yield _band(shot, words.letter(i), band)


def _band(shot: ShotPlan, letter: str, band: int) -> Shape:
    corridor = shot.corridor
    assert corridor is not None
    wide = np.ptp(corridor.across_m[band], axis=0)
    high = np.ptp(corridor.up_m[band], axis=0)
    rows = (
        ("width", f"{wide.min():.1f} to {wide.max():.1f} m"),
        ("height of the band", f"{high.min():.1f} to {high.max():.1f} m"),
        ("from", f"{shot.rides} rides"),
    )
    title = f"{letter}: {SHARES[band]:.0%} of the rides fly here"
    look = f"band-{SHARES[band]:.0%}".rstrip("%")
    ring = corridor.outline(band)
    sides = [simplified(side, OFF_M) for side in np.split(ring, 2)]
    return Shape("area", look, (np.concatenate(sides),), info=Info(title, rows))


def seen(shot: ShotPlan, letter: str, one: Watched) -> Iterator[Shape]:
    """Along the track where a watcher does not see it; for each stretch one line of sight."""
    path, ride = shot.scene.track.xyz_m[0, :, :2], shot.scene.track.ride
    lines: list[Shape] = []
    calm = _calmed(one)
    for low, high in runs(calm):
        sight = Sight(int(calm[low]))
        same = low + np.flatnonzero(one.sight[low:high] == sight)
        middle = int(same[len(same) // 2])
        along = ride.along_m[0, [low, min(high, len(path) - 1)]]
        rows = (
            ("from", f"{along[0]:.0f} to {along[1]:.0f} m along the ride"),
            ("lasts", say.seconds((high - low) * STEP_S)),
            ("in its middle", one.says(middle)),
        )
        info = Info(f"{letter}, {one.who}", rows)
        if sight != Sight.SEEN:
            look = "sight-unknown" if sight == Sight.UNKNOWN else "unseen"
            part = simplified(path[low : high + 1], OFF_M)
            yield Shape("line", look, (part,), info=info)
        lines += _line(one, path[middle], middle, info)
    yield from lines


def _calmed(one: Watched) -> NDArray[np.int8]:
    """`(n,)` the sight, moments shorter than `SHORT_S` counted to what was before."""
    calm = one.sight.copy()
    for low, high in runs(one.sight)[1:]:
        if high - low < SHORT_S / STEP_S:
            calm[low:high] = calm[low - 1]
    return calm


def _line(one: Watched, craft_m: Array, i: int, info: Info) -> Iterator[Shape]:
    """From the eye to the aircraft, or to what cuts the view."""
    eye = one.eye_m[i, :2]
    if not np.isfinite(eye).all():
        return
    way = craft_m - eye
    if one.sight[i] != Sight.HIDDEN:
        look = {Sight.SEEN: "sight-free", Sight.FAR: "sight-far"}.get(Sight(one.sight[i]))
        if look:
            yield Shape("line", look, (np.stack([eye, craft_m]),), info=info)
        return
    cut = eye + way * float(one.free_m[i] / one.slant_m[i])
    yield Shape("line", "sight-cut", (np.stack([eye, cut]),), info=info)
    yield Shape("circle", "sight-end", (cut[None],), radius_m=1.0, info=info)


def _homes(plan: Plan) -> Iterator[Shape]:
    """Level ways to the launch: thin from all along the track, and that of the worst place."""
    launch = plan.outing.site.launch
    height = plan.outing.site.return_height_m
    flown = "not given" if height is None else f"{say.metres(height)} above the launch, or higher"
    for shot, letter, found in _found(plan, "ways home"):
        path = shot.scene.track.xyz_m[0, :, :2]
        if launch is None or not found.drawings:
            continue
        rows = [("flies home at", flown), ("why", plain(found.reason))]
        if to_do := words.to_do(found):
            rows.append(("to do", to_do))
        info = Info(f"{letter}: the way home when left alone", tuple(rows))
        for i in np.linspace(0, len(path) - 1, WAYS).round().astype(int):
            way = np.stack([path[i], launch.xyz_m[:2]])
            yield Shape("line", "home", (way,), info=info)
        for one in found.drawings:
            yield Shape("line", "home-worst", (one.outline,), info=info)


def _others(plan: Plan) -> Iterator[Shape]:
    for _, letter, found in _found(plan, ""):
        for one in found.drawings:
            info = Info(f"{letter}: {plain(one.what)}")
            yield Shape("area" if one.filled else "line", "drawn", (one.outline,), info=info)


def _calls(plan: Plan) -> Iterator[Shape]:
    """Where the rider is when stop must have been called before a tight place."""
    for i, shot in enumerate(plan.shots):
        ride, name = shot.scene.track.ride, words.letter(i)
        for call in last_calls(shot, plan.marks):
            if call.before_start:
                continue
            at = min(int(np.searchsorted(ride.t_s, call.mark_s)), len(ride.t_s) - 1)
            rows = (
                ("tight", f"{call.check}, {plain(call.thing)}"),
                ("say", words.called(call, name)),
            )
            info = Info(f"last call {call.code(name)}", rows)
            where = (ride.xyz_m[:1, at, :2],)
            yield Shape("mark", "call", where, tag=call.code(name), info=info, of=i)


def _found(plan: Plan, sheet: str) -> Iterator[tuple[ShotPlan, str, Finding]]:
    """Shots, their letters and the findings whose drawings lie on a sheet ("" that of all)."""
    for i, shot in enumerate(plan.shots):
        for found in shot.findings:
            if found.of.sheet == sheet:
                yield shot, words.letter(i), found
