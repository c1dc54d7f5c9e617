"""The local frame: metres east and north of the site's centre. The only pyproj.

Azimuthal equidistant about the centre, on the WGS 84 datum (`+datum=WGS84`: with `+ellps` the
datum step of national grids is dropped in silence).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal, NamedTuple

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from shotplan.kernels.ground.grid import monomials
from shotplan.model.arrays import Array

FIT_RESIDUAL_M = 0.01  # the polynomial must agree this well, or the grid is refused
UTM_BANDS = "CDEFGHJKLMNPQRSTUVWX"  # 8° of latitude each from 80° south, the last one 12°


class GridFit(NamedTuple):
    """`to_grid`, `to_frame (2, 6)` as `kernels.grid.Grid` wants; `cell_m` mean post spacing;
    `operation` and `accuracy_m` (NaN unknown) of the datum step."""

    to_grid: Array
    to_frame: Array
    cell_m: float
    operation: str
    accuracy_m: float


@dataclass(frozen=True, kw_only=True)
class Frame:
    """A frame about `lon_deg`, `lat_deg`."""

    lon_deg: float
    lat_deg: float

    @cached_property
    def crs(self) -> CRS:
        """The frame's own reference system."""
        return CRS.from_proj4(
            f"+proj=aeqd +lat_0={self.lat_deg:.12f} +lon_0={self.lon_deg:.12f} "
            "+datum=WGS84 +units=m +no_defs"
        )

    @cached_property
    def _from_lonlat(self) -> Transformer:
        return Transformer.from_crs("EPSG:4326", self.crs, always_xy=True, allow_ballpark=False)

    def xy_m(self, lonlat_deg: Array) -> Array:
        """`(..., 2)` longitude, latitude -> `(..., 2)` x east, y north."""
        x, y = self._from_lonlat.transform(lonlat_deg[..., 0], lonlat_deg[..., 1], errcheck=True)
        return np.stack([np.asarray(x, dtype=float), np.asarray(y, dtype=float)], axis=-1)

    def lonlat_deg(self, xy_m: Array) -> Array:
        """`(..., 2)` x, y -> `(..., 2)` longitude, latitude."""
        lon, lat = self._from_lonlat.transform(
            xy_m[..., 0], xy_m[..., 1], direction="INVERSE", errcheck=True
        )
        return np.stack([np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)], axis=-1)

    def turned_deg(self, xy_m: Array) -> Array:
        """The same, longitudes counted on from the middle's: 180.01 rather than -179.99 where the
        middle is at 179.99, so that a line drawn from them does not go round the world."""
        found = self.lonlat_deg(xy_m)
        found[..., 0] = self._turned(found[..., 0])
        return found

    def _turned(self, lon_deg: Array) -> Array:
        return np.asarray(lon_deg - 360.0 * np.round((lon_deg - self.lon_deg) / 360.0))

    def utm(self, xy_m: Array) -> str:
        """`17U 489 123 E 5 498 321 N`, a point `(2,)` in the universal transverse Mercator grid on
        WGS 84, in whole metres; "" toward the poles, where that grid ends."""
        lon, lat = (float(v) for v in self.lonlat_deg(np.asarray(xy_m, dtype=float)))
        if not -80.0 <= lat <= 84.0:
            return ""
        zone, south = _utm_zone(lon, lat), lat < 0.0
        grid = CRS.from_epsg((32700 if south else 32600) + zone)
        step = Transformer.from_crs("EPSG:4326", grid, always_xy=True, allow_ballpark=False)
        east, north = step.transform(lon, lat, errcheck=True)
        band = UTM_BANDS[min(int((lat + 80.0) // 8.0), len(UTM_BANDS) - 1)]
        return f"{zone:02d}{band} {_thousands(east)} E {_thousands(north)} N"

    def _to_crs(self, crs_wkt: str) -> Transformer:
        try:
            return Transformer.from_crs(
                self.crs, CRS.from_user_input(crs_wkt), always_xy=True, allow_ballpark=False
            )
        except (CRSError, ProjError) as error:
            raise ValueError(f"no way from the site's frame to the grid's CRS: {error}") from error

    def window(
        self, crs_wkt: str, affine: tuple[float, ...], low_m: Array, high_m: Array
    ) -> tuple[int, int, int, int]:
        """Rows and columns (first row, last row, first col, last col; may lie outside the raster)
        that cover the frame's rectangle `low_m (2,)` to `high_m (2,)`."""
        edge = np.linspace(0.0, 1.0, 21)
        gx, gy = np.meshgrid(edge, edge)
        x = low_m[0] + gx * (high_m[0] - low_m[0])
        y = low_m[1] + gy * (high_m[1] - low_m[1])
        row, col = self._rowcol(self._to_crs(crs_wkt), affine, x, y)
        return (
            int(np.floor(row.min())),
            int(np.ceil(row.max())),
            int(np.floor(col.min())),
            int(np.ceil(col.max())),
        )

    def _rowcol(
        self, step: Transformer, affine: tuple[float, ...], x: Array, y: Array
    ) -> tuple[Array, Array]:
        east, north = step.transform(x, y, errcheck=True)
        if step.target_crs is not None and step.target_crs.is_geographic:
            east = self._turned(np.asarray(east))
        a, b, c, d, e, f = affine[:6]
        det = a * e - b * d
        de, dn = np.asarray(east) - c, np.asarray(north) - f
        col = (e * de - b * dn) / det - 0.5
        row = (a * dn - d * de) / det - 0.5
        return np.asarray(row, dtype=float), np.asarray(col, dtype=float)

    def in_turn(self, crs_wkt: str, affine: tuple[float, ...], cols: int) -> tuple[float, ...]:
        """The `affine` of a raster of so many columns, moved by whole turns of longitude to where
        the frame is, where it lies in degrees."""
        if not CRS.from_user_input(crs_wkt).is_geographic:
            return affine
        a, b, c, d, e, f = affine[:6]
        turns = round((self.lon_deg - (c + 0.5 * a * cols)) / 360.0)
        return (a, b, c + 360.0 * turns, d, e, f)

    def fit(
        self,
        crs_wkt: str,
        affine: tuple[float, ...],
        rows: tuple[int, int],
        cols: tuple[int, int],
        low_m: Array,
        high_m: Array,
        within_m: float = FIT_RESIDUAL_M,
    ) -> GridFit:
        """Polynomials between frame and posts for the window starting at `rows[0]`, `cols[0]`.

        `affine` is a, b, c, d, e, f of the whole raster (x = a·col + b·row + c with col, row at
        cell corners); posts are cell centres. Fitted over the frame's rectangle, checked on a
        shifted lattice; `ValueError` where it is off by more than `within_m`.
        """
        step = self._to_crs(crs_wkt)

        def posts(x: Array, y: Array) -> tuple[Array, Array]:
            row, col = self._rowcol(step, affine, x, y)
            return row - rows[0], col - cols[0]

        x, y = _lattice(low_m, high_m, 0.0, 15)
        row, col = posts(x, y)
        to_grid, to_frame = _solve(x, y, row, col), _solve(row, col, x, y)
        cell_m = float(
            np.sqrt(abs(to_frame[0, 1] * to_frame[1, 2] - to_frame[0, 2] * to_frame[1, 1]))
        )

        x, y = _lattice(low_m, high_m, 0.5, 11)
        row, col = posts(x, y)
        off_m = np.abs(monomials(x, y) @ to_grid.T - np.stack([row, col], -1)).max() * cell_m
        off_back_m = np.abs(monomials(row, col) @ to_frame.T - np.stack([x, y], -1)).max()
        if not max(off_m, off_back_m) <= within_m:
            raise ValueError(
                "the ground is too wide to lay into one frame: "
                f"off by {max(off_m, off_back_m):.3f} m, wanted at most {within_m} m"
            )
        return GridFit(to_grid, to_frame, cell_m, *_used(step, float(x[0]), float(y[0])))


class System(NamedTuple):
    """A coordinate system: its plane part as WKT, what it is called, metres of a unit in the plane
    (NaN: degrees) and of a unit of height (NaN: it says nothing of heights)."""

    wkt: str
    name: str
    unit_m: float
    upright_unit_m: float

    def lonlat_deg(self, xy: Array) -> Array:
        """`(..., 2)` east, north (or longitude, latitude) -> `(..., 2)` WGS 84."""
        return self._moved(xy, "FORWARD")

    def from_lonlat(self, lonlat_deg: Array) -> Array:
        """The other way."""
        return self._moved(lonlat_deg, "INVERSE")

    def _moved(self, xy: Array, way: Literal["FORWARD", "INVERSE"]) -> Array:
        step = _to_earth(self.wkt)
        east, north = step.transform(xy[..., 0], xy[..., 1], direction=way, errcheck=True)
        return np.stack([np.asarray(east, dtype=float), np.asarray(north, dtype=float)], axis=-1)

    def metres_per_unit(self, at: Array) -> Array:
        """`(2,)` metres of a unit east and north at a place `(2,)` of its own: what a grid's own
        scale makes of them."""
        step = 1e-4 if np.isnan(self.unit_m) else 10.0
        around = self.lonlat_deg(at + step * np.array([(-1, 0), (1, 0), (0, -1), (0, 1)]))
        lon, lat = around.mean(axis=0).tolist()
        west, east, south, north = Frame(lon_deg=lon, lat_deg=lat).xy_m(around)
        return np.array([np.hypot(*(east - west)), np.hypot(*(north - south))]) / (2.0 * step)


@lru_cache(maxsize=8)
def _to_earth(wkt: str) -> Transformer:
    return Transformer.from_crs(wkt, "EPSG:4326", always_xy=True, allow_ballpark=False)


def system(text: str) -> System:
    """A coordinate system from what names it (`EPSG:25832`, WKT). Raises `ValueError`."""
    try:
        whole = CRS.from_user_input(text)
    except CRSError as error:
        raise ValueError("is no coordinate system") from error
    parts = whole.sub_crs_list if whole.is_compound else [whole]
    upright = [p.axis_info[0].unit_conversion_factor for p in parts if p.is_vertical]
    plane = next((p for p in parts if p.is_projected or p.is_geographic), None)
    if plane is None:
        raise ValueError("is no coordinate system of a plane or of longitude and latitude")
    if len(plane.axis_info) == 3:
        upright, plane = [plane.axis_info[2].unit_conversion_factor], plane.to_2d()
    unit = float("nan") if plane.is_geographic else plane.axis_info[0].unit_conversion_factor
    return System(plane.to_wkt(), plane.name, float(unit), float((*upright, np.nan)[0]))


def _used(step: Transformer, x: float, y: float) -> tuple[str, float]:
    """Operation and accuracy of a step. Where several lead there, the one used is known only after
    a point has gone."""
    step.transform(x, y, errcheck=True)
    used = step.get_last_used_operation()
    known = used.accuracy is not None and used.accuracy >= 0
    return str(used.description), float(used.accuracy) if known else float("nan")


def _lattice(low_m: Array, high_m: Array, shift: float, count: int) -> tuple[Array, Array]:
    """Points all over a rectangle, its edges included or, with a shift, half a step inside."""
    t = (np.arange(count) + shift) / (count - 1 + 2 * shift)
    x, y = (low + t * (high - low) for low, high in zip(low_m, high_m, strict=True))
    gx, gy = np.meshgrid(x, y)
    return gx.ravel(), gy.ravel()


def _solve(p: Array, q: Array, first: Array, second: Array) -> Array:
    """`(2, 6)` the polynomials of p and q that come nearest to two values of each point."""
    scale = max(float(np.abs(p).max()), float(np.abs(q).max()), 1.0)
    lines = monomials(p / scale, q / scale)
    solution, *_ = np.linalg.lstsq(lines, np.stack([first, second]).T, rcond=None)
    return np.asarray(solution.T / np.array([1, scale, scale, scale**2, scale**2, scale**2]))


def _utm_zone(lon_deg: float, lat_deg: float) -> int:
    """Six degrees each from 180° west; wider ones in the west of Norway and on Svalbard."""
    if 56.0 <= lat_deg < 64.0 and 3.0 <= lon_deg < 12.0:
        return 32
    if lat_deg >= 72.0 and 0.0 <= lon_deg < 42.0:
        return (31, 33, 35, 37)[int(np.searchsorted([9.0, 21.0, 33.0], lon_deg, side="right"))]
    return min(int((lon_deg + 180.0) // 6.0) + 1, 60)


def _thousands(metres: float) -> str:
    return f"{metres:,.0f}".replace(",", "\N{NO-BREAK SPACE}")


def lonlat_of(crs_wkt: str, x: float, y: float) -> tuple[float, float]:
    """Longitude and latitude (degrees, WGS 84) of a point of a reference system."""
    step = Transformer.from_crs(
        CRS.from_user_input(crs_wkt), "EPSG:4326", always_xy=True, allow_ballpark=False
    )
    lon, lat = step.transform(x, y, errcheck=True)
    return float(lon), float(lat)
