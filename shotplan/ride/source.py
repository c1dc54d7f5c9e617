"""Where a ride comes from: a recording, or a line drawn on the ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path as File

import numpy as np

from shotplan.errors import Problems
from shotplan.files.disk import is_file
from shotplan.files.gpx import Fixes, read_gpx
from shotplan.files.tables import nearest_name
from shotplan.files.words import printable, shown
from shotplan.model.arrays import Array
from shotplan.model.disturbance import RECEIVER_LEAVES_M, RECEIVER_M
from shotplan.model.frame import Frame
from shotplan.ride.clean import clean
from shotplan.ride.path import FASTEST_M_S, Path, at_speed, crop, too_fast

DRAWN_M = 0.5  # FORMATS "[ride] error_m"
LONGEST_S = 86_400  # a day in the saddle


@dataclass(frozen=True, kw_only=True)
class Source:
    """`lonlat_deg (k, 2)`; `fixes` and `file` None for a drawn line; `error_m` unless said, and
    the same under leaves."""

    label: str
    lonlat_deg: Array
    error_m: float
    leaves_error_m: float
    fixes: Fixes | None = None
    file: File | None = None


@dataclass(frozen=True, kw_only=True)
class Line:
    """`path` cropped; `whole_xy_m (k, 2)` before that; `fixes_xy_m (m, 2)`, `elevation_m (m,)` to
    compare with the terrain (empty for a drawn line)."""

    path: Path
    whole_xy_m: Array
    fixes_xy_m: Array
    elevation_m: Array
    remarks: tuple[str, ...]


def find(
    name: str, drawn: Mapping[str, Array], folder: File, where: str, problems: Problems
) -> Source | None:
    """The ride called `name`: the id of a drawn line `(k, 2)` in degrees, or a file."""
    if name in drawn:
        return Source(
            label=f"drawn line {printable(name)}",
            lonlat_deg=drawn[name],
            error_m=DRAWN_M,
            leaves_error_m=DRAWN_M,
        )
    file = folder / name
    if not is_file(file, where, Problems()):
        near = nearest_name(name, [*drawn, *(p.name for p in sorted(folder.glob("*.gpx")))])
        problems.add(
            where,
            f"path is {shown(name)}: no such file, and no line with role ride has that id{near}",
        )
        return None
    fixes = read_gpx(file, name, problems)
    if fixes is None:
        return None
    lonlat = np.column_stack([fixes.lon_deg, fixes.lat_deg])
    return Source(
        label=name,
        lonlat_deg=lonlat,
        error_m=RECEIVER_M,
        leaves_error_m=RECEIVER_LEAVES_M,
        fixes=fixes,
        file=file,
    )


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
    fixes_xy, elevation = np.empty((0, 2)), np.empty(0)
    if source.fixes is not None:
        cleaned = clean(source.fixes, frame, speed_m_s, source.label, problems)
        if cleaned is None:
            return None
        whole, fixes_xy, elevation = cleaned.path, cleaned.xy_m, cleaned.elevation_m
        remarks += [f"{source.label}: {r}" for r in (*source.fixes.remarks, *cleaned.remarks)]
    elif speed_m_s is None:
        problems.add(where, "a drawn line has no times: give speed_m_s, the speed it is ridden at")
        return None
    else:
        whole = at_speed(frame.xy_m(source.lonlat_deg), speed_m_s)
    path = _cropped(whole, from_m, to_m, where, problems, remarks)
    if path is None or not _ridable(path, source.label if source.file else where, problems):
        return None
    return Line(
        path=path,
        whole_xy_m=whole.xy_m,
        fixes_xy_m=fixes_xy,
        elevation_m=elevation,
        remarks=tuple(remarks),
    )


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
