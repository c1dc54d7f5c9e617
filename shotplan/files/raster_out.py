"""Elevations as a GeoTIFF."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

NODATA = -9999.0


def write_elevations(
    z_m: NDArray[np.float64], wkt: str, affine: tuple[float, float, float, float, float, float]
) -> bytes:
    """`z_m (rows, columns)` in metres, NaN missing; `affine` as `files.raster.RasterInfo` has it.
    Stored to a thousandth of a metre."""
    from rasterio import Affine, Env
    from rasterio.crs import CRS
    from rasterio.io import MemoryFile

    cells = np.where(np.isfinite(z_m), z_m, NODATA).astype(np.float32)
    with Env(GDAL_PAM_ENABLED=False), MemoryFile() as memory:
        with memory.open(
            driver="GTiff", width=z_m.shape[1], height=z_m.shape[0], count=1, dtype="float32",
            crs=CRS.from_wkt(wkt), transform=Affine(*affine), nodata=NODATA, compress="deflate",
            predictor=3, tiled=True,
        ) as raster:  # fmt: skip
            raster.write(cells, 1)
            raster.units = ("m",)
        return bytes(memory.read())
