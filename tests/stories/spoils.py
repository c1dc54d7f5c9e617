"""Ways to spoil a copy of the bundled site: each takes the folder and changes one thing in it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import rasterio

Spoil = Callable[[Path], None]


def toml(*changes: tuple[str, str]) -> Spoil:
    """Replaces text in site.toml, once each; the text must be there."""
    return replaced("site.toml", *changes)


def replaced(file: str, *changes: tuple[str, str]) -> Spoil:
    """Replaces text in a file, once each; the text must be there."""

    def spoil(folder: Path) -> None:
        text = (folder / file).read_text("utf-8")
        for old, new in changes:
            assert old in text, f"{file} no longer holds {old!r}"
            text = text.replace(old, new, 1)
        (folder / file).write_text(text, "utf-8")

    return spoil


def written(file: str, data: bytes | str) -> Spoil:
    """The whole file anew."""

    def spoil(folder: Path) -> None:
        (folder / file).write_bytes(data.encode() if isinstance(data, str) else data)

    return spoil


def both(*spoils: Spoil) -> Spoil:
    """One after the other."""

    def spoil(folder: Path) -> None:
        for one in spoils:
            one(folder)

    return spoil


def ground(change: Callable[[list[dict[str, Any]]], None]) -> Spoil:
    """Changes the features of ground.geojson."""

    def spoil(folder: Path) -> None:
        file = folder / "ground.geojson"
        collection = json.loads(file.read_text("utf-8"))
        change(collection["features"])
        file.write_text(json.dumps(collection), "utf-8")

    return spoil


def called(features: list[dict[str, Any]], id: str) -> dict[str, Any]:
    """The feature with that id."""
    return next(f for f in features if f["id"] == id)


def said(id: str, **properties: object) -> Spoil:
    """Sets properties of one feature."""
    return ground(lambda features: called(features, id)["properties"].update(properties))


def turned(coordinates: Any) -> Any:
    """Every longitude, latitude pair the wrong way round."""
    if isinstance(coordinates[0], float):
        return coordinates[::-1]
    return [turned(c) for c in coordinates]


def swap_all(features: list[dict[str, Any]]) -> None:
    """Latitude first, everywhere."""
    for feature in features:
        feature["geometry"]["coordinates"] = turned(feature["geometry"]["coordinates"])


def cross(features: list[dict[str, Any]]) -> None:
    """Two corners of the boundary change places."""
    ring = called(features, "boundary")["geometry"]["coordinates"][0]
    ring[1], ring[2] = ring[2], ring[1]


def second_boundary(features: list[dict[str, Any]]) -> None:
    """The boundary once more, under another id."""
    features.append({**called(features, "boundary"), "id": "boundary-2"})


def id_twice(features: list[dict[str, Any]]) -> None:
    """Two trees of one name."""
    called(features, "thorn-02")["id"] = "thorn-01"


def tree_as_line(features: list[dict[str, Any]]) -> None:
    """A tree drawn as a line."""
    called(features, "thorn-01")["geometry"] = called(features, "walkers")["geometry"]


def out_of_the_world(features: list[dict[str, Any]]) -> None:
    """A longitude no place has."""
    called(features, "cairn")["geometry"]["coordinates"][0] = 214.7


def gpx(change: Callable[[re.Match[str]], str]) -> Spoil:
    """Changes every fix of ride.gpx."""

    def spoil(folder: Path) -> None:
        file = folder / "ride.gpx"
        file.write_text(re.sub(r"<trkpt .*?</trkpt>", change, file.read_text("utf-8")), "utf-8")

    return spoil


def abroad(fix: re.Match[str]) -> str:
    """Three degrees further east: about 190 km at this latitude."""
    return re.sub(r'lon="([\d.]+)"', lambda m: f'lon="{float(m[1]) + 3.0:.7f}"', fix[0])


def swapped(fix: re.Match[str]) -> str:
    """Latitude and longitude the wrong way round."""
    return fix[0].replace("lat=", "was=").replace("lon=", "lat=").replace("was=", "lon=")


def without_time(fix: re.Match[str]) -> str:
    """A fix without its time."""
    return re.sub(r"<time>.*?</time>", "", fix[0])


def far_too_fast(folder: Path) -> None:
    """The same fixes 0.07 s apart: about 300 km/h."""
    file = folder / "ride.gpx"
    text = file.read_text("utf-8")
    count = iter(range(10_000))

    def time(_: re.Match[str]) -> str:
        return f"<time>2026-06-06T16:02:{0.07 * next(count):06.3f}Z</time>"

    file.write_text(re.sub(r"<time>.*?</time>", time, text), "utf-8")


def one_fix(folder: Path) -> None:
    """Only the first fix is left."""
    text = (folder / "ride.gpx").read_text("utf-8")
    first = re.search(r"<trkpt .*?</trkpt>", text)
    assert first is not None
    head, tail = text.split(first[0])[0], "</trkseg></trk></gpx>"
    (folder / "ride.gpx").write_text(head + first[0] + tail, "utf-8")


def cut_short(folder: Path) -> None:
    """A recording whose battery died while writing."""
    data = (folder / "ride.gpx").read_bytes()
    (folder / "ride.gpx").write_bytes(data[: len(data) // 2])


def raster(side: int, crs: str | None, driver: str = "GTiff") -> Spoil:
    """A terrain of `side` x `side` cells of 2 m, mostly a hole in the file."""

    def spoil(folder: Path) -> None:
        sparse = {"sparse_ok": True, "tiled": True} if side > 1000 else {}
        with rasterio.open(
            folder / "new.tif", "w", driver=driver, width=side, height=side, count=1,
            dtype="float32", crs=crs, **sparse,
            transform=rasterio.Affine(2, 0, 483_600, 0, -2, 6_123_080),
        ) as file:  # fmt: skip
            if not sparse:
                file.write(np.full((side, side), 70.0, dtype=np.float32), 1)
        (folder / "new.tif").replace(folder / "terrain.tif")

    return spoil


def virtual_raster(folder: Path) -> None:
    """A recipe that fetches another file, called .tif."""
    (folder / "terrain.tif").write_text(
        '<VRTDataset rasterXSize="10" rasterYSize="10"><SRS>EPSG:32633</SRS>'
        "<GeoTransform>483600,2,0,6123080,0,-2</GeoTransform>"
        '<VRTRasterBand dataType="Float32" band="1"><SimpleSource><SourceFilename>'
        "/vsicurl/http://127.0.0.1:9/terrain.tif</SourceFilename><SourceBand>1</SourceBand>"
        "</SimpleSource></VRTRasterBand></VRTDataset>",
        "utf-8",
    )


def not_text(folder: Path) -> None:
    """A name in an old Western code page."""
    text = (folder / "site.toml").read_text("utf-8").replace("Hvinhylde", "Hvinhylde sø")
    (folder / "site.toml").write_bytes(text.encode("latin-1"))


def nothing_left(folder: Path) -> None:
    """An empty folder."""
    for file in folder.iterdir():
        file.unlink()


def unchanged(folder: Path) -> None:
    """The folder is sound; what is asked of it is not."""
