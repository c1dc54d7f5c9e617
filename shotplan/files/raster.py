"""Elevation rasters: GeoTIFF, ESRI ASCII grid, .hgt.

The name's ending chooses the driver, and the file's first bytes must agree, so that no other format
(such as one that fetches its cells from elsewhere) is ever opened.
"""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.errors import BadInput, Problem, Problems
from shotplan.files.disk import is_file
from shotplan.files.words import listed, one_line, printable, shown

if TYPE_CHECKING:
    from rasterio.crs import CRS
    from rasterio.io import DatasetReader

MOST_CELLS = 1_000_000_000
LOWEST_M, HIGHEST_M = -500.0, 9000.0  # no ground beyond these (general knowledge): missing
LARGEST_PRJ = 100_000
DRIVERS = {".tif": "GTiff", ".tiff": "GTiff", ".asc": "AAIGrid", ".hgt": "SRTMHGT"}
_TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_GRID_KEYS = (b"ncols", b"nrows", b"xllc", b"yllc", b"cellsize", b"dx", b"dy")
_METRES = ("", "m", "metre", "metres", "meter", "meters")
_UNIT = re.compile(r'(?:LENGTH)?UNIT\["([^"]*)",\s*([0-9.eE+-]+)')
# No neighbour of the file is opened, nothing is written beside it, nothing is fetched.
_SETTINGS: dict[str, str | bool | int] = {
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_PAM_ENABLED": False,
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "GDAL_HTTP_PROXY": "http://127.0.0.1:9",
    "GDAL_HTTP_MAX_RETRY": 0,
}


class RasterInfo(NamedTuple):
    """`affine` a, b, c, d, e, f: x = a·col + b·row + c, y = d·col + e·row + f at cell corners, in
    the system `wkt` describes."""

    path: Path
    wkt: str
    affine: tuple[float, float, float, float, float, float]
    rows: int
    cols: int
    driver: str


def open_raster(path: Path, where: str, problems: Problems) -> RasterInfo | None:
    """What a raster is, without reading its cells; None where it cannot be used (problems say
    why: no plain file, another format inside, no CRS, feet, a picture, too many cells)."""
    driver = DRIVERS.get(path.suffix.lower())
    if driver is None:
        wanted = listed(DRIVERS)
        problems.add(where, f"ends in {shown(path.suffix)}; wanted terrain that ends in {wanted}")
        return None
    if not is_file(path, where, problems) or not _begins_right(path, driver, where, problems):
        return None
    if driver == "AAIGrid" and not _prj_sound(path, where, problems):
        return None
    try:
        with _opened(path, driver) as dataset:
            crs = _crs(path, dataset, where, problems)
            if crs is None:
                return None
            if reasons := _unsound(dataset, crs):
                for reason in reasons:
                    problems.add(where, reason)
                return None
            return RasterInfo(
                path=path,
                wkt=crs.to_wkt(),
                affine=tuple(float(v) for v in dataset.transform[:6]),  # type: ignore[arg-type]
                rows=int(dataset.height),
                cols=int(dataset.width),
                driver=driver,
            )
    except _Unreadable as error:
        problems.add(where, str(error))
        return None


def read_window(
    info: RasterInfo, row0: int, row1: int, col0: int, col1: int
) -> NDArray[np.float64]:
    """Elevations `(row1 - row0 + 1, col1 - col0 + 1)` of rows row0..row1 and columns col0..col1,
    both ends included: NaN where missing or outside the raster, scale and offset applied.

    Raises `BadInput` where the file turns out to be damaged.
    """
    from rasterio.windows import Window

    cells = np.full((max(row1 - row0 + 1, 0), max(col1 - col0 + 1, 0)), np.nan)
    top, bottom = max(row0, 0), min(row1, info.rows - 1)
    left, right = max(col0, 0), min(col1, info.cols - 1)
    if top > bottom or left > right:
        return cells
    window = Window(left, top, right - left + 1, bottom - top + 1)
    try:
        with _opened(info.path, info.driver) as dataset:
            read = dataset.read(1, window=window, masked=True)
            scale, offset = dataset.scales[0], dataset.offsets[0]
    except _Unreadable as error:
        raise BadInput((Problem(info.path.name, str(error)),)) from error
    values = np.where(np.ma.getmaskarray(read), np.nan, read.data.astype(float)) * scale + offset
    with np.errstate(invalid="ignore"):
        values[~((values >= LOWEST_M) & (values <= HIGHEST_M))] = np.nan
    cells[top - row0 : bottom - row0 + 1, left - col0 : right - col0 + 1] = values
    return cells


class _Unreadable(Exception):
    """What the library says a file has wrong."""


@contextmanager
def _opened(path: Path, driver: str) -> Iterator[DatasetReader]:
    """The dataset, read with one driver only and cut off from the network."""
    import rasterio
    from rasterio.errors import CRSError, NotGeoreferencedWarning, RasterioError

    with rasterio.Env(**_SETTINGS), warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            with rasterio.open(path.absolute(), driver=driver) as dataset:
                yield dataset
        except (RasterioError, CRSError, OSError) as error:
            raise _Unreadable(f"cannot be read: {one_line(str(error))}") from error


def _begins_right(path: Path, driver: str, where: str, problems: Problems) -> bool:
    """Whether the file's first bytes are those of its format."""
    try:
        with path.open("rb") as file:
            head = file.read(64)
    except OSError as error:
        problems.add(where, f"cannot be read: {error.strerror}")
        return False
    right = {
        "GTiff": head.startswith(_TIFF),
        "AAIGrid": head.lstrip().lower().startswith(_GRID_KEYS),
        "SRTMHGT": not head.lstrip().startswith((b"<", b"PK", b"{")),
    }[driver]
    if not right:
        kind = {"GTiff": "GeoTIFF", "AAIGrid": "ESRI ASCII grid"}.get(driver, "elevation tile")
        problems.add(where, f"is no {kind}: it does not begin like one")
    return right


def _prj_sound(path: Path, where: str, problems: Problems) -> bool:
    """Whether what lies beside a grid as its .prj, which the library reads too, is a small file."""
    for beside in (path.with_suffix(".prj"), path.with_suffix(".PRJ")):
        try:
            small = not beside.exists() or (
                beside.is_file() and beside.stat().st_size <= LARGEST_PRJ
            )
        except OSError:
            small = False
        if not small:
            name = printable(beside.name)
            problems.add(where, f"{name} beside it is too large to be WKT, or is no file")
            return False
    return True


def _crs(path: Path, dataset: DatasetReader, where: str, problems: Problems) -> CRS | None:
    """The raster's reference system, for .asc from the .prj beside it; refused where missing."""
    from rasterio.crs import CRS
    from rasterio.errors import CRSError

    if dataset.driver != "AAIGrid":
        if not dataset.crs:
            problems.add(
                where,
                "says no coordinate system (CRS), and none is guessed: find out which it is and "
                "write it in, for example with: rio edit-info --crs EPSG:25832 " + path.name,
            )
        return dataset.crs or None
    beside = next((p for s in (".prj", ".PRJ") if (p := path.with_suffix(s)).is_file()), None)
    if beside is None:
        prj = path.with_suffix(".prj").name
        problems.add(where, f"has no coordinate system (CRS): put {printable(prj)} beside it")
        return None
    try:
        text = beside.read_bytes()[:LARGEST_PRJ].decode("utf-8-sig", errors="replace")
        return CRS.from_wkt(text, morph_from_esri_dialect=True)
    except (CRSError, OSError, ValueError):
        problems.add(where, f"{printable(beside.name)} beside it is no coordinate system as WKT")
        return None


def _unsound(dataset: DatasetReader, crs: CRS) -> list[str]:
    """Why the cells are no elevations in metres, placed on the earth, or too many; [] if sound."""
    from rasterio.enums import ColorInterp

    rows, cols = dataset.height, dataset.width
    a, b, _, d, e, _ = dataset.transform[:6]
    area = a * e - b * d
    colours = {ColorInterp.red, ColorInterp.palette} & set(dataset.colorinterp)
    kind = np.dtype(dataset.dtypes[0])
    reasons = []
    if rows * cols > MOST_CELLS:
        reasons.append(
            f"has {rows} x {cols} cells; wanted at most {MOST_CELLS:,}: crop it to the place, "
            "for example with: rio clip"
        )
    if colours or (dataset.count >= 3 and kind == np.uint8):
        reasons.append(f"is a picture ({dataset.count} bands of {kind}); wanted elevations")
    elif kind.kind not in "iuf":
        reasons.append(f"holds {kind} cells; wanted elevations as plain numbers")
    if dataset.transform.is_identity or not math.isfinite(area) or area == 0.0:
        reasons.append("does not say where on the earth it lies (no geotransform)")
    if unit := _not_metres(dataset.units[0] or "", crs):
        reasons.append(unit)
    return reasons


def _not_metres(band_unit: str, crs: CRS) -> str:
    """Why heights are not, or not surely, in metres; "" where they are."""
    cure = "turn its heights into metres (times 0.3048 for feet) and save it with heights in metres"
    if band_unit.strip().lower() not in _METRES:
        return f"gives heights in {shown(band_unit)}; wanted metres: {cure}"
    wkt = crs.to_wkt()
    found = re.search(r"VERT(?:_CS|CRS)\[", wkt)
    if found:
        unit = _UNIT.search(wkt, found.start())
        if unit and float(unit.group(2)) != 1.0:
            return f"gives heights in {shown(unit.group(1))}; wanted metres: {cure}"
        return ""
    if not band_unit and crs.is_projected and crs.linear_units_factor[1] != 1.0:
        return (
            f"lies in a grid of {shown(crs.linear_units)} and does not say the unit of its "
            "heights: where they are metres write it in, for example with: rio edit-info "
            f"--units m; else {cure}"
        )
    return ""
