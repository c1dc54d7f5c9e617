"""One flight on the map: its line by verdict, where it starts and ends, the places worth a look."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.rides import runs
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict, worst
from shotplan.output import words
from shotplan.output.map.shapes import Info, Shape, simplified

OFF_M = 0.1  # a track is drawn to so much: own choice
FIRST_PINS = 2  # of a shot, shown at first sight; the others from nearer


def shapes(shot: ShotPlan, index: int, size_m: float) -> Iterator[Shape]:
    """`size_m` is a hundredth of what is seen first: marks in the line keep to it."""
    path = shot.scene.track.xyz_m[0, :, :2]
    codes = shot.sample_verdict
    same = [(Verdict(int(codes[low])), low, high) for low, high in runs.runs(codes)]
    lines: list[tuple[str, Array]] = []
    lines += [("blind", path[lo : hi + 1]) for lo, hi in runs.stretches(shot.scene.blind[0])]
    lines += [(f"casing-{v.word}", path[lo : hi + 1]) for v, lo, hi in same]
    lines += [(f"track-{v.word}", path[lo : hi + 1]) for v, lo, hi in same]
    for look, part in lines:
        yield Shape("line", look, (simplified(part, OFF_M),))
    yield Shape("area", "end", (_arrow(path, size_m),))
    yield Shape("line", "touch", (simplified(path, OFF_M),), shot=index)
    for verdict, lo, hi in same:
        if verdict == Verdict.NO_GO:
            for at in _spaced(path[lo:hi], 3.5 * size_m):
                yield Shape("mark", "cross", (at[None],), tag="×")
    name = words.letter(index)
    yield Shape("mark", "start", (path[:1],), tag=name, info=Info(f"shot {name} starts here"))
    yield from _pins(shot, name, 2.5 * size_m)


def _arrow(path: Array, size_m: float) -> Array:
    """The head of an arrow at the end, pointing the way it flies last."""
    gone = np.flatnonzero(np.linalg.norm(path - path[-1], axis=1) >= size_m)
    way = path[-1] - path[gone[-1] if len(gone) else 0]
    course = float(np.arctan2(way[0], way[1]))
    tip = path[-1] + 1.6 * size_m * np.array([np.sin(course), np.cos(course)])
    left, right = (
        tip - 2.9 * size_m * np.array([np.sin(course + w), np.cos(course + w)])
        for w in (-0.36, 0.36)
    )
    return np.stack([left, tip, right])


def _spaced(path: Array, apart_m: float) -> Array:
    """Points of a path about `apart_m` from each other, at least one, none at its very ends."""
    gone = np.concatenate([[0.0], np.linalg.norm(np.diff(path, axis=0), axis=1).cumsum()])
    count = max(1, round(float(gone[-1]) / apart_m))
    at = (np.arange(count) + 0.5) * gone[-1] / count
    return np.asarray(path[np.searchsorted(gone, at).clip(0, len(path) - 1)])


def _pins(shot: ShotPlan, name: str, near_m: float) -> Iterator[Shape]:
    """A tag for every place worth a look, the worst first; places nearer than `near_m` share
    one. At first sight only the worst `FIRST_PINS` are shown. What a tap tells is in
    `findings.py`, by the tag."""
    pins = words.pins(shot, name)
    groups: list[list[Finding]] = []
    for found in words.ranked(shot):
        if found.check not in pins or found.told.at is None:
            continue
        for group in groups:
            if np.hypot(*(_spot(group[0]) - _spot(found))) < near_m:
                group.append(found)
                break
        else:
            groups.append([found])
    for rank, group in enumerate(groups):
        first, *others = (pins[f.check] for f in group)
        tag = ", ".join((first, *(other.partition("·")[2] for other in others)))
        kind = f"pin-{worst(f.verdict for f in group).word}"
        yield Shape("mark", kind, (_spot(group[0])[None],), tag=tag, near=rank >= FIRST_PINS)


def _spot(found: Finding) -> Array:
    at = found.told.at
    return np.array(at.xyz_m[:2] if at else (np.nan, np.nan))
