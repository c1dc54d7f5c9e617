"""What a reader of surveys would answer, made by hand, about the ride of `tests.worlds`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pyproj import Transformer
from rasterio.io import MemoryFile
from rasterio.transform import from_origin

from shotplan.errors import Problems
from shotplan.intake import surveys
from shotplan.intake.found import Found
from tests import worlds

ON = date(2024, 5, 1)


def own(source: str, role: str, number: int, geometry: Any, **says: Any) -> dict[str, Any]:
    """A feature as a reader writes it: its id among its properties."""
    id_ = f"{source}-{role}-{number:04d}"
    return {"type": "Feature", "properties": {"id": id_, "role": role, **says},
            "geometry": geometry}  # fmt: skip


def tree(source: str, number: int, east_m: float, north_m: float, **says: Any) -> dict[str, Any]:
    return own(source, "tree", number, worlds.point(east_m, north_m),
               **{"height_m": 9.0, "radius_m": 2.0, **says})  # fmt: skip


def strip(source: str, number: int = 1, kinds: Sequence[str] = ("trees", "buildings")) -> Any:
    ring = worlds.box(-120.0, -60.0, 120.0, 60.0)
    return own(source, "surveyed", number, worlds.polygon(ring), looked_for=list(kinds),
               on=ON.isoformat())  # fmt: skip


def raster(elevation_m: float = 84.0) -> bytes:
    """A GeoTIFF of level ground about the ride."""
    east, north = Transformer.from_crs(
        worlds.FRAME.crs, worlds.RASTER_CRS, always_xy=True
    ).transform(0.0, 0.0)
    with MemoryFile() as memory:
        with memory.open(
            driver="GTiff", width=160, height=160, count=1, dtype="float32", nodata=-9999.0,
            crs=worlds.RASTER_CRS, transform=from_origin(east - 400.0, north + 400.0, 5.0, 5.0),
        ) as made:  # fmt: skip
            made.write(np.full((160, 160), elevation_m, dtype="float32"), 1)
        return bytes(memory.read())


RASTER = raster()


def lidar(*features: Any, **more: Any) -> Found:
    """`lidar` with a terrain."""
    said = {
        "features": features or (tree("lidar", 1, 5.0, 20.0), strip("lidar")),
        "files": {"lidar-terrain.tif": RASTER},
        "keys": {"terrain": "lidar-terrain.tif", "terrain_error_m": 0.2},
        "credit": "a surveyor, licence", "on": ON, "said": ("22 points/m²",),
    }  # fmt: skip
    return Found(source="lidar", **{**said, **more})


def osm(*features: Any, **more: Any) -> Found:
    said = {"features": features, "credit": "© OpenStreetMap contributors", "on": date(2023, 1, 1)}
    return Found(source="osm", **{**said, **more})


class Readers:
    """Stands in for the readers: answers with what it was told, or refuses."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, folder: Path) -> None:
        self.found: dict[str, Found | str] = {}
        self.asked: list[tuple[str, Any]] = []
        self.files = {}
        for source in ("lidar", "canopy", "osm", "zone"):
            suffix = {"lidar": "laz", "osm": "osm"}.get(source, "json")
            self.files[source] = folder / f"{source}.{suffix}"
            self.files[source].write_bytes(b"a survey")
            name = "_zones" if source == "zone" else f"_{source}"
            monkeypatch.setattr(surveys, name, self._reader(source))

    def _reader(self, source: str) -> Any:
        def read(given: Any, ride: Any, problems: Problems, *rest: Any) -> list[Found | None]:
            option = "--zones" if source == "zone" else f"--{source}"
            if option not in given.options:
                return []
            self.asked.append((source, ride))
            found = self.found[source]
            if isinstance(found, str):
                problems.add(option, found)
                return [None]
            return [found]

        return read

    def given(self, *sources: str) -> surveys.Surveys:
        path = {s: self.files[s] for s in sources}
        lidars = (path["lidar"],) if "lidar" in path else ()
        return surveys.Surveys(lidar=lidars, canopy=path.get("canopy"), osm=path.get("osm"),
                               zones=path.get("zone"))  # fmt: skip
