"""What the bundled sites are drawn with: metres on a sheet of a UTM zone, made into files.

Positions are metres east and north of the sheet's `origin_m`.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import rasterio
import shapely
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.transform import from_origin
from shapely.geometry.polygon import orient

Array = NDArray[np.float64]
Point = tuple[float, float]
Ridden = list[tuple[float, float]]
SITES = Path(__file__).resolve().parents[2] / "sites"
TICK_S = 0.05


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The paper a site is drawn on."""

    crs: str
    origin_m: Point

    def lonlat(self, points: Sequence[Point]) -> list[list[float]]:
        """Longitude, latitude to 7 decimals (about a centimetre)."""
        to_world = Transformer.from_crs(self.crs, "EPSG:4326", always_xy=True, allow_ballpark=False)
        lon, lat = to_world.transform(
            [self.origin_m[0] + p[0] for p in points], [self.origin_m[1] + p[1] for p in points]
        )
        return [[round(a, 7), round(b, 7)] for a, b in zip(lon, lat, strict=True)]

    def feature(
        self,
        id: str,
        role: str,
        points: Sequence[Point],
        shape: str = "Point",
        **properties: object,
    ) -> dict[str, object]:
        """One GeoJSON feature."""
        if shape == "Polygon":
            ring = orient(shapely.Polygon(points)).exterior  # RFC 7946: counterclockwise
            coordinates: object = [self.lonlat([(x, y) for x, y in ring.coords])]
        else:
            coordinates = self.lonlat(points) if shape == "LineString" else self.lonlat(points)[0]
        return {
            "type": "Feature",
            "id": id,
            "properties": {"role": role, **properties},
            "geometry": {"type": shape, "coordinates": coordinates},
        }


def collection(features: Sequence[dict[str, object]]) -> str:
    """The text of a ground.geojson: a feature a line."""
    lines = ",\n".join(json.dumps(f) for f in features)
    return f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'


def cells_m(
    elevation_m: Callable[[Array, Array], Array], columns: int, rows: int, cell_m: float
) -> NDArray[np.float32]:
    """`(rows, columns)` elevation of the cell centres, the northern row first."""
    x, y = np.meshgrid((np.arange(columns) + 0.5) * cell_m, (np.arange(rows)[::-1] + 0.5) * cell_m)
    return np.asarray(np.round(elevation_m(x, y), 2), dtype=np.float32)


def write_terrain(path: Path, sheet: Sheet, z: NDArray[np.float32], cell_m: float) -> None:
    """The GeoTIFF, its lower left corner at the sheet's origin."""
    rows, columns = z.shape
    west_m, south_m = sheet.origin_m
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=1, dtype="float32",
        crs=sheet.crs, transform=from_origin(west_m, south_m + rows * cell_m, cell_m, cell_m),
        nodata=-9999.0, compress="deflate", predictor=3, zlevel=9,
    ) as file:  # fmt: skip
        file.write(z, 1)


def gpx(
    sheet: Sheet,
    path: Ridden,
    point_at: Callable[[float], Point],
    elevation_m: Callable[[Array, Array], Array],
    *,
    track: str,
    started: datetime,
    seed: int,
    wander_m: float,
    stop_at_m: float | None = None,
    every_second_m: Sequence[tuple[float, float]] = (),
) -> str:
    """The text of a GPX: fixes 1 to 2 s apart, with a receiver's slow wander of `wander_m`.
    `every_second_m`: stretches of the ride where no second is left out."""
    chance = random.Random(seed)
    wander = [0.0, 0.0]
    next_s, lines = 0.0, []
    for t_s, s_m in path:
        if t_s < next_s - 1e-6:
            continue
        stands = stop_at_m is not None and stop_at_m <= s_m < stop_at_m + 0.1
        keep = math.exp(-1.0 / (120.0 if stands else 15.0))  # Gauss-Markov
        wander = [keep * w + math.sqrt(1 - keep**2) * wander_m * _normal(chance) for w in wander]
        x, y = point_at(s_m)
        up_m = float(elevation_m(np.array(x), np.array(y))) + 2.1 + 0.4 * _normal(chance)
        [[lon, lat]] = sheet.lonlat([(x + wander[0], y + wander[1])])
        when = (started + timedelta(seconds=round(next_s))).strftime("%Y-%m-%dT%H:%M:%SZ")
        lines.append(
            f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{up_m:.1f}</ele>'
            f"<time>{when}</time></trkpt>"
        )
        dense = any(low < s_m < high for low, high in every_second_m)
        next_s = round(next_s) + (2.0 if chance.random() < 0.2 and not dense else 1.0)
    body = "\n".join(lines)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx version="1.1" creator="drawn" xmlns="http://www.topografix.com/GPX/1/1">\n'
        f"<trk><name>{track}</name><trkseg>\n{body}\n</trkseg></trk>\n</gpx>\n"
    )


def ridden(
    length_m: float,
    speeds: Sequence[tuple[float, float]],
    top_m_s: float,
    stop_at_m: float = math.inf,
    stop_s: float = 0.0,
) -> Ridden:
    """Time and distance along a ride, every 0.05 s: past each (place, speed) of `speeds` at that
    speed, braking and sprinting between them at no more than 1.3 m/s²."""
    t_s, s_m, stood = 0.0, 0.0, False
    out = [(t_s, s_m)]
    while s_m < length_m:
        if not stood and s_m >= stop_at_m:
            stood = True
            for _ in range(round(stop_s / TICK_S)):
                t_s += TICK_S
                out.append((t_s, s_m))
        speed_m_s = min(math.sqrt(v**2 + 2.0 * 1.3 * abs(s_m - at)) for at, v in speeds)
        s_m += min(speed_m_s, top_m_s) * TICK_S
        t_s += TICK_S
        out.append((t_s, s_m))
    return out


def _normal(chance: random.Random) -> float:
    """Standard normal by Box and Muller, so that no library's sampler decides the file."""
    return math.sqrt(-2.0 * math.log(1.0 - chance.random())) * math.cos(
        2.0 * math.pi * chance.random()
    )
