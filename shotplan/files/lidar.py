"""Laser scans: LAS 1.2 to 1.4 and LAZ, read in pieces. The only laspy."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.errors import BadInput, Problem, Problems
from shotplan.files.disk import is_file
from shotplan.files.words import one_line, printable, shown

if TYPE_CHECKING:
    from laspy import LasReader

PIECE = 1_000_000  # returns at a time
VERSIONS = ("1.2", "1.3", "1.4")
SUFFIXES = (".las", ".laz")
_PLANE_UNIT, _UPRIGHT_UNIT = 3076, 4099  # GeoTIFF keys
_UNITS_M = {9001: 1.0, 9002: 0.3048, 9003: 1200.0 / 3937.0}  # EPSG units of measure
_ADJUSTED_S = 1e9  # LAS specification: adjusted standard GPS time is that much less
_WHOLE_S = 6e8  # seconds above that are not adjusted: adjusted ones get there in 2030
WEEK_S = 604_800.0


class Stated(NamedTuple):
    """A coordinate system as a file states it: WKT, and metres of a unit in the plane where that is
    stated apart (NaN: it is not)."""

    wkt: str
    unit_m: float


class LidarInfo(NamedTuple):
    """What a scan says of itself. `systems`: the one that counts first (none: it says none);
    `upright_unit_m`: metres of a unit of height (NaN: not said); `low`, `high (3,)` in the file's
    own units; `written`: when the file was made; `dated`: whether its times tell the day."""

    path: Path
    points: int
    systems: tuple[Stated, ...]
    upright_unit_m: float
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    written: date | None
    dated: bool


class Piece(NamedTuple):
    """Some returns: `xyz (n, 3)` in the file's own units, `kind (n,)` classes of the LAS
    specification, `gps_s (n,)` seconds since 1980-01-06 (NaN: the day is not told). What the file
    marks as withheld, and what is no number, is left out."""

    xyz: NDArray[np.float64]
    kind: NDArray[np.uint8]
    gps_s: NDArray[np.float64]


def open_lidar(path: Path, where: str, problems: Problems) -> LidarInfo | None:
    """What a scan is, without reading its returns; None where it cannot be used."""
    if not is_file(path, where, problems):
        return None
    try:
        with path.open("rb") as file:
            head = file.read(375)
    except OSError as error:
        problems.add(where, f"cannot be read: {error.strerror}")
        return None
    if not head.startswith(b"LASF"):
        begin = printable(head[:16].decode("latin-1"))
        problems.add(where, f'is no laser scan (LAS or LAZ): begins "{begin}"')
        return None
    version = f"{head[24]}.{head[25]}" if len(head) > 25 else ""
    if version not in VERSIONS:
        problems.add(where, f"is LAS {shown(version)}; wanted 1.2, 1.3 or 1.4")
        return None
    try:
        with _opened(path) as reader:
            return _info(path, reader, where, problems)
    except _Unreadable as error:
        problems.add(where, str(error))
        return None


def read_pieces(info: LidarInfo, size: int = PIECE) -> Iterator[Piece]:
    """All returns of a scan, `size` at a time, in the order of the file.

    Raises `BadInput` where the file turns out to be damaged or cut short.
    """
    got = 0
    try:
        with _opened(info.path) as reader:
            for chunk in reader.chunk_iterator(size):
                got += len(chunk)
                yield _piece(chunk, info.dated)
    except _Unreadable as error:
        raise BadInput((Problem(info.path.name, str(error)),)) from error
    if got < info.points:
        said = f"ends after {got:,} of its {info.points:,} returns: download it again"
        raise BadInput((Problem(info.path.name, said),))


class _Unreadable(Exception):
    """What is wrong with a file."""


@contextmanager
def _opened(path: Path) -> Iterator[LasReader]:
    import laspy
    from laspy import DecompressionSelection as Part

    wanted = Part.XY_RETURNS_CHANNEL | Part.Z | Part.CLASSIFICATION | Part.FLAGS | Part.GPS_TIME
    try:
        with (
            warnings.catch_warnings(action="ignore"),
            laspy.open(path, decompression_selection=wanted) as reader,
        ):
            yield reader
    except GeneratorExit:
        raise
    except BaseException as error:  # lazrs panics are no Exception
        if isinstance(error, Exception) or type(error).__name__ == "PanicException":
            text = one_line(str(error)) or type(error).__name__
            raise _Unreadable(f"is damaged or cut short ({text}): download it again") from error
        raise


def _info(path: Path, reader: LasReader, where: str, problems: Problems) -> LidarInfo | None:
    header = reader.header
    if not header.point_count:
        problems.add(where, "holds no returns")
        return None
    low, high = np.array(header.mins, dtype=float), np.array(header.maxs, dtype=float)
    if not (np.isfinite(low).all() and np.isfinite(high).all() and (low <= high).all()):
        problems.add(where, "does not say where it lies (its header's extent is no extent)")
        return None
    records = [*header.vlrs, *(header.evlrs or ())]
    keys = _keys(records)
    plane_m = _UNITS_M.get(keys.get(_PLANE_UNIT, 0), math.nan)
    stated = [
        Stated(_system(records, "WktCoordinateSystemVlr"), math.nan),
        Stated(_system(records, "GeoKeyDirectoryVlr"), plane_m),
    ]
    if not header.global_encoding.wkt:
        stated.reverse()
    times = int(header.global_encoding.gps_time_type)
    return LidarInfo(
        path=path,
        points=int(header.point_count),
        systems=tuple(s for s in stated if s.wkt),
        upright_unit_m=_UNITS_M.get(keys.get(_UPRIGHT_UNIT, 0), math.nan),
        low=low,
        high=high,
        written=header.creation_date,
        dated=bool(times),
    )


def _system(records: list[Any], kind: str) -> str:
    """The coordinate system of the first record of a kind that can be understood, as WKT."""
    for record in records:
        if type(record).__name__ != kind:
            continue
        try:
            found = record.parse_crs()
        except (RuntimeError, ValueError, KeyError):
            continue
        if found is not None:
            return str(found.to_wkt())
    return ""


def _keys(records: list[Any]) -> dict[int, int]:
    """GeoTIFF keys that hold their value themselves."""
    return {
        int(key.id): int(key.value_offset)
        for record in records
        if type(record).__name__ == "GeoKeyDirectoryVlr"
        for key in record.geo_keys
        if key.tiff_tag_location == 0
    }


def _piece(chunk: Any, dated: bool) -> Piece:
    kept = np.asarray(chunk.withheld) == 0
    xyz = np.stack([np.asarray(axis, dtype=float) for axis in (chunk.x, chunk.y, chunk.z)], axis=-1)
    kind = np.asarray(chunk.classification, dtype=np.uint8)
    kept &= np.isfinite(xyz).all(axis=1)
    return Piece(xyz[kept], kind[kept], _seconds(chunk, dated)[kept])


def _seconds(chunk: Any, dated: bool) -> NDArray[np.float64]:
    """GPS seconds. Seconds of a week tell no day; many files forget to say that theirs are none."""
    if "gps_time" not in chunk.point_format.dimension_names:
        return np.full(len(chunk), np.nan)
    t = np.asarray(chunk.gps_time, dtype=float)
    since = np.where(t < _WHOLE_S, t + _ADJUSTED_S, t)
    return np.where(dated | (t > WEEK_S), since, np.nan)
