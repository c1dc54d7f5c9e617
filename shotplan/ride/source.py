"""Where a ride comes from: a recording, several of one ride, or a line drawn on the ground."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as File
from typing import NamedTuple

import numpy as np

from shotplan.errors import Problems
from shotplan.files.disk import is_file
from shotplan.files.fixes import Fixes
from shotplan.files.recording import READERS, read_recording
from shotplan.files.tables import nearest_name
from shotplan.files.words import printable, shown
from shotplan.model.arrays import Array
from shotplan.model.disturbance import RECEIVER_LEAVES_M, RECEIVER_M
from shotplan.model.frame import Frame
from shotplan.ride.brakes import Braked
from shotplan.ride.clean import Cleaned, clean, why_not_timed
from shotplan.ride.path import FASTEST_M_S, Path, at_speed, crop, too_fast
from shotplan.ride.together import Together, error_m, independent, mean_of

LONGEST_M = 200_000.0  # of each of several recordings
DRAWN_M = 0.5  # FORMATS "[ride] error_m"
LONGEST_S = 86_400  # a day in the saddle


class Recorded(NamedTuple):
    """A recording that was read; `name` that of its file."""

    name: str
    fixes: Fixes


@dataclass(frozen=True, kw_only=True)
class Source:
    """`lonlat_deg (k, 2)`; `recorded` empty for a drawn line; each of several is one ride of the
    same way."""

    label: str
    lonlat_deg: Array
    recorded: tuple[Recorded, ...] = ()

    @property
    def files(self) -> tuple[str, ...]:
        """Their names, to be listed among what was read."""
        return tuple(r.name for r in self.recorded)


@dataclass(frozen=True, kw_only=True)
class Line:
    """`path` cropped; `whole_xy_m (k, 2)` before that; `fixes_xy_m (m, 2)`, `elevation_m (m,)` to
    compare with the terrain (empty for a drawn line); `error_m` of its place unless somebody says
    another, and the same under leaves; `braked` where he brakes on some recordings only, in metres
    of `path`."""

    path: Path
    whole_xy_m: Array
    fixes_xy_m: Array
    elevation_m: Array
    error_m: float
    leaves_error_m: float
    remarks: tuple[str, ...]
    braked: tuple[Braked, ...] = ()


class _Whole(NamedTuple):
    """A line before it is cropped."""

    path: Path
    error_m: float
    leaves_error_m: float
    cleaned: tuple[Cleaned, ...] = ()
    braked: tuple[Braked, ...] = ()


def find(
    named: str | Sequence[str],
    drawn: Mapping[str, Array],
    folder: File,
    where: str,
    problems: Problems,
) -> Source | None:
    """The ride called so: the id of a drawn line `(k, 2)` in degrees, or one file or several."""
    if isinstance(named, str) and named in drawn:
        return Source(label=f"drawn line {printable(named)}", lonlat_deg=drawn[named])
    names = (named,) if isinstance(named, str) else tuple(named)
    again = [name for k, name in enumerate(names) if name in names[:k]]
    if again:
        problems.add(where, f"path names {shown(again[0])} twice: one recording counts once")
        return None
    read = [_recorded(name, drawn, folder, where, problems) for name in names]
    recorded = tuple(one for one in read if one is not None)
    if len(recorded) < len(read):
        return None
    more = f" and {len(names) - 1} more" if len(names) > 1 else ""
    lonlat = np.concatenate([one.fixes.lonlat_deg for one in recorded])
    return Source(label=names[0] + more, lonlat_deg=lonlat, recorded=recorded)


def _recorded(
    name: str, drawn: Mapping[str, Array], folder: File, where: str, problems: Problems
) -> Recorded | None:
    file = folder / name
    if not is_file(file, where, Problems()):
        there = [p.name for p in sorted(folder.glob("*")) if p.suffix.lower() in READERS]
        problems.add(
            where,
            f"path is {shown(name)}: no such file, and no line with role ride has that id"
            f"{nearest_name(name, [*drawn, *there])}",
        )
        return None
    fixes = read_recording(file, name, problems)
    return None if fixes is None else Recorded(name, fixes)


def line_of(
    source: Source,
    frame: Frame,
    speed_m_s: float | None,
    from_m: float,
    to_m: float | None,
    where: str,
    problems: Problems,
) -> Line | None:
    """The ride's line in the frame, mended and cropped; None where there is none."""
    remarks: list[str] = []
    if source.recorded:
        whole = _from_recordings(source, frame, speed_m_s, where, problems, remarks)
    elif speed_m_s is None:
        problems.add(where, "a drawn line has no times: give speed_m_s, the speed it is ridden at")
        return None
    else:
        whole = _Whole(at_speed(frame.xy_m(source.lonlat_deg), speed_m_s), DRAWN_M, DRAWN_M)
    if whole is None:
        return None
    path = _cropped(whole.path, from_m, to_m, where, problems, remarks)
    if path is None or not _ridable(path, source.label if source.recorded else where, problems):
        return None
    fixes = [np.empty((0, 2)), *(c.xy_m for c in whole.cleaned)]
    return Line(
        path=path,
        whole_xy_m=whole.path.xy_m,
        fixes_xy_m=np.concatenate(fixes),
        elevation_m=np.concatenate([np.empty(0), *(c.elevation_m for c in whole.cleaned)]),
        error_m=whole.error_m,
        leaves_error_m=whole.leaves_error_m,
        remarks=tuple(remarks),
        braked=tuple(b._replace(at_m=b.at_m - from_m) for b in whole.braked),
    )


def _from_recordings(
    source: Source,
    frame: Frame,
    speed_m_s: float | None,
    where: str,
    problems: Problems,
    remarks: list[str],
) -> _Whole | None:
    """One recording cleaned, or several made one. Where some have times, the others give their
    line only."""
    untimed = [why_not_timed(one.fixes.time_s) for one in source.recorded]
    line_only = speed_m_s or (None if all(untimed) else 1.0)
    cleaned = []
    for one, doubt in zip(source.recorded, untimed, strict=True):
        speed = line_only if doubt else speed_m_s
        found = clean(one.fixes, frame, speed, one.name, problems)
        if found is None:
            continue
        cleaned.append(found)
        remarks += [f"{one.name}: {r}" for r in (*one.fixes.remarks, *found.remarks)]
    if len(cleaned) < len(source.recorded):
        return None
    kept = tuple(cleaned)
    if len(kept) == 1:
        return _Whole(kept[0].path, RECEIVER_M, RECEIVER_LEAVES_M, kept)
    fit = [
        _ridable(c.path, one.name, problems) and _not_endless(c.path, one.name, problems)
        for c, one in zip(kept, source.recorded, strict=True)
    ]
    if not all(fit):
        return None
    joint = mean_of([c.path for c in kept], [not doubt for doubt in untimed])
    if isinstance(joint, int):
        problems.add(
            where,
            f"{source.files[joint]} does not run along the others for half of their way: a list "
            "is of several recordings of one ride, ridden the same way; leave it out",
        )
        return None
    return _joint(source, kept, joint, speed_m_s, remarks)


def _not_endless(path: Path, name: str, problems: Problems) -> bool:
    """Whether several such can be laid along one another in a moment."""
    if path.length_m > LONGEST_M:
        problems.add(
            name,
            f"is {path.length_m / 1000:.0f} km long; wanted at most {LONGEST_M / 1000:.0f} km "
            "where several are given: cut it to the place in question",
        )
    return path.length_m <= LONGEST_M


def _joint(
    source: Source,
    cleaned: tuple[Cleaned, ...],
    joint: Together,
    speed_m_s: float | None,
    remarks: list[str],
) -> _Whole:
    """Several recordings as one, and what there is to say of it."""
    count = independent([_span(one.fixes) for one in source.recorded])
    open_m, leaves_m = (error_m(m, joint.spread_m, count) for m in (RECEIVER_M, RECEIVER_LEAVES_M))
    counted = f"of which {count} count for themselves" if count < len(cleaned) else "all counted"
    low, high = joint.shared_m
    remarks.append(
        f"the line is the mean of {len(cleaned)} recordings ({counted}), which lie "
        f"{joint.spread_m:.1f} m apart across it (one standard error); taken as right to "
        f"{open_m:.1f} m in the open and {leaves_m:.1f} m under leaves, each way"
    )
    remarks.append(
        f"it is the {high - low:.0f} m that all share, from {low:.0f} m of "
        f"{source.files[joint.kept]}, whose speeds it has (the middle one)"
    )
    if speed_m_s is not None:
        return _Whole(at_speed(joint.path.xy_m, speed_m_s), open_m, leaves_m, cleaned)
    if joint.braked:
        places = ", ".join(f"{b.at_m:.0f}" for b in joint.braked[:6])
        more = " …" if len(joint.braked) > 6 else ""
        remarks.append(
            f"others of them brake where it does not, {places}{more} m along: disturbed rides "
            "brake there as often as they do"
        )
    return _Whole(joint.path, open_m, leaves_m, cleaned, joint.braked)


def _span(fixes: Fixes) -> tuple[float, float] | None:
    """First and last moment; None where the times cannot be used."""
    if why_not_timed(fixes.time_s):
        return None
    return float(np.nanmin(fixes.time_s)), float(np.nanmax(fixes.time_s))


def _cropped(
    whole: Path, from_m: float, to_m: float | None, where: str, problems: Problems,
    remarks: list[str],
) -> Path | None:  # fmt: skip
    length_m = whole.length_m
    if from_m >= length_m:
        problems.add(where, f"from_m is {from_m:g}; the ride is {length_m:.1f} m long")
        return None
    if to_m is not None and to_m > length_m + 0.05:
        remarks.append(f"to_m is {to_m:g}; the ride ends at {length_m:.1f} m")
    return crop(whole, from_m, length_m if to_m is None else to_m)


def _ridable(path: Path, label: str, problems: Problems) -> bool:
    if path.t_s[-1] < 1.0 or path.length_m < 1.0:
        problems.add(
            label,
            f"the ride is {path.length_m:.1f} m long and lasts {path.t_s[-1]:.1f} s; "
            "wanted at least 1 m and 1 s",
        )
        return False
    if path.t_s[-1] > LONGEST_S:
        problems.add(
            label,
            f"the ride lasts {path.t_s[-1] / 3600.0:,.0f} h; wanted at most {LONGEST_S // 3600} h: "
            "crop it with from_m and to_m, or check the speed",
        )
        return False
    fast = too_fast(path)
    if fast is None:
        return True
    speed_m_s, at_m, count = fast
    problems.add(
        label,
        f"{count} leg(s) faster than {FASTEST_M_S:g} m/s, the fastest {speed_m_s:.0f} m/s "
        f"({3.6 * speed_m_s:.0f} km/h) {at_m:.0f} m along: not a ride; crop it out with from_m "
        "and to_m, mend the recording, or give speed_m_s",
    )
    return False
