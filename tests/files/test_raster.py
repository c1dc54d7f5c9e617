from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
import rasterio.crs
import rasterio.errors
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning
from rasterio.transform import Affine

from shotplan.errors import BadInput, Problems
from shotplan.files import raster
from shotplan.files.raster import RasterInfo, open_raster, read_window

UTM = "EPSG:25832"
CELLS = np.arange(12.0).reshape(3, 4) + 100.0
ASC = "ncols 4\nnrows 3\nxllcorner 1000\nyllcorner 2000\ncellsize 5\nNODATA_value -9999\n"
ROWS = "100 101 102 103\n104 -9999 106 107\n108 109 110 111\n"


def write(path: Path, cells: Any = CELLS, **more: Any) -> Path:
    bands = cells if cells.ndim == 3 else cells[None]
    units, scale, offset, colour = (
        more.pop(k, None) for k in ("units", "scale", "offset", "colour")
    )
    profile = {
        "driver": "GTiff",
        "width": bands.shape[2],
        "height": bands.shape[1],
        "count": bands.shape[0],
        "dtype": bands.dtype,
        "crs": UTM,
        "transform": Affine(5.0, 0.0, 600000.0, 0.0, -5.0, 5200000.0),
        **more,
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(path, "w", **profile) as dataset:
            dataset.write(bands)
            if units:
                dataset.units = (units,) * dataset.count
            if scale:
                dataset.scales, dataset.offsets = (scale,), (offset,)
            if colour:
                dataset.colorinterp = colour
    return path


def opened(path: Path) -> tuple[RasterInfo | None, list[str]]:
    problems = Problems()
    info = open_raster(path, path.name, problems)
    return info, [str(p) for p in problems.found]


def test_a_geotiff(tmp_path: Path) -> None:
    info, said = opened(write(tmp_path / "t.tif"))
    assert said == []
    assert info is not None
    assert (info.rows, info.cols, info.driver) == (3, 4, "GTiff")
    assert info.affine == (5.0, 0.0, 600000.0, 0.0, -5.0, 5200000.0)
    assert "25832" in info.wkt
    np.testing.assert_array_equal(read_window(info, 0, 2, 0, 3), CELLS)


def test_a_window_partly_outside(tmp_path: Path) -> None:
    info, _ = opened(write(tmp_path / "t.TIFF"))
    assert info is not None
    cells = read_window(info, -1, 1, 2, 5)
    assert cells.shape == (3, 4)
    np.testing.assert_array_equal(cells[1:, :2], CELLS[:2, 2:])
    assert np.isnan(cells[0]).all()
    assert np.isnan(cells[:, 2:]).all()
    assert np.isnan(read_window(info, 50, 52, 0, 3)).all()
    assert read_window(info, -9, -8, -7, -7).shape == (2, 1)


def test_missing_cells_are_nan(tmp_path: Path) -> None:
    cells = np.array([[-9999.0, 1e38, np.nan], [np.inf, -32768.0, 7.0]], dtype=np.float32)
    info, _ = opened(write(tmp_path / "t.tif", cells, nodata=-9999.0))
    assert info is not None
    read = read_window(info, 0, 1, 0, 2)
    assert np.isnan(read).sum() == 5
    assert read[1, 2] == 7.0


def test_scale_and_offset_are_applied(tmp_path: Path) -> None:
    cells = np.array([[10, 20], [30, -1]], dtype=np.int16)
    info, _ = opened(write(tmp_path / "t.tif", cells, nodata=-1, scale=0.1, offset=50.0))
    assert info is not None
    np.testing.assert_allclose(read_window(info, 0, 1, 0, 1), [[51.0, 52.0], [53.0, np.nan]])


def test_an_ascii_grid_with_its_prj(tmp_path: Path) -> None:
    (tmp_path / "t.asc").write_text(ASC + ROWS)
    prj = rasterio.crs.CRS.from_user_input(UTM).to_wkt(version="WKT1_ESRI")
    (tmp_path / "t.prj").write_text(prj)
    info, said = opened(tmp_path / "t.asc")
    assert said == []
    assert info is not None
    assert info.affine == (5.0, 0.0, 1000.0, 0.0, -5.0, 2015.0)
    wanted = CELLS.copy()
    wanted[1, 1] = np.nan
    np.testing.assert_array_equal(read_window(info, 0, 2, 0, 3), wanted)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["t.asc", "t.prj"]


def test_an_elevation_tile(tmp_path: Path) -> None:
    cells = np.full((1201, 1201), 300, dtype=">i2")
    cells[0, 0] = -32768
    (tmp_path / "N47E011.hgt").write_bytes(cells.tobytes())
    info, said = opened(tmp_path / "N47E011.hgt")
    assert said == []
    assert info is not None
    assert (info.rows, info.cols, info.driver) == (1201, 1201, "SRTMHGT")
    read = read_window(info, 0, 1, 0, 1)
    assert np.isnan(read[0, 0])
    assert read[1, 1] == 300.0


def test_a_mask_beside_the_file_is_not_opened(tmp_path: Path) -> None:
    path = write(tmp_path / "t.tif")
    (tmp_path / "t.tif.msk").write_text('<VRTDataset rasterXSize="4" rasterYSize="3"/>')
    (tmp_path / "t.tif.aux.xml").write_text("<PAMDataset><nonsense></PAMDataset>")
    info, said = opened(path)
    assert said == []
    assert info is not None
    np.testing.assert_array_equal(read_window(info, 0, 2, 0, 3), CELLS)


VRT = (
    '<VRTDataset rasterXSize="4" rasterYSize="3"><VRTRasterBand dataType="Float32" band="1">'
    "<SimpleSource><SourceFilename>/vsicurl/http://127.0.0.1:9/a.tif</SourceFilename>"
    "</SimpleSource></VRTRasterBand></VRTDataset>"
)


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        (
            "t.png",
            b"x",
            't.png: ends in ".png"; wanted terrain that ends in ".tif", ".tiff", ".asc"',
        ),
        ("t.vrt", VRT.encode(), 't.vrt: ends in ".vrt"; wanted terrain'),
        ("t.tif", None, "t.tif: there is no such file"),
        ("t.tif", VRT.encode(), "t.tif: is no GeoTIFF: it does not begin"),
        ("t.asc", VRT.encode(), "t.asc: is no ESRI ASCII grid: it does not begin"),
        ("N47E011.hgt", VRT.encode(), "N47E011.hgt: is no elevation tile: it does not begin"),
        ("N47E011.hgt", b"\0\0", "N47E011.hgt: cannot be read: "),
        ("other.hgt", b"\0\0" * 1201**2, "other.hgt: cannot be read: "),
        ("t.tif", b"II*\0" + b"\0" * 60, "t.tif: cannot be read: "),
        ("t.tif", b"", "t.tif: is no GeoTIFF: it does not begin"),
        (
            "t.asc",
            (ASC + ROWS).encode(),
            "t.asc: has no coordinate system (CRS): put t.prj beside it",
        ),
    ],
)
def test_files_that_are_refused(
    tmp_path: Path, name: str, data: bytes | None, message: str
) -> None:
    if data is not None:
        (tmp_path / name).write_bytes(data)
    info, said = opened(tmp_path / name)
    assert info is None
    assert len(said) == 1
    assert said[0].startswith(message)


def test_a_prj_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "t.asc").write_text(ASC + ROWS)
    (tmp_path / "t.prj").write_text("somewhere in the Alps")
    info, said = opened(tmp_path / "t.asc")
    assert info is None
    assert said == ["t.asc: t.prj beside it is no coordinate system as WKT"]


PICTURE = np.zeros((3, 3, 4), dtype=np.uint8)
FEET = 'gives heights in "ft"; wanted metres: turn its heights into metres (times 0.3048 for feet)'


@pytest.mark.parametrize(
    ("cells", "more", "message"),
    [
        (CELLS, {"crs": None}, "says no coordinate system (CRS), and none is guessed"),
        (CELLS, {"transform": Affine.identity()}, "does not say where on the earth it lies"),
        (CELLS, {"transform": Affine(1, 2, 3, 2, 4, 5)}, "does not say where on the earth it lies"),
        (PICTURE, {"photometric": "RGB"}, "is a picture (3 bands of uint8); wanted elevations"),
        (PICTURE, {}, "is a picture (3 bands of uint8); wanted elevations"),
        (PICTURE[:1], {"colour": [ColorInterp.palette]}, "is a picture (1 bands of uint8)"),
        (CELLS.astype(np.complex64), {}, "holds complex64 cells; wanted elevations"),
        (CELLS, {"units": "ft"}, FEET),
        (CELLS, {"crs": "EPSG:25832+6360"}, 'gives heights in "US survey foot"; wanted metres'),
        (CELLS, {"crs": "EPSG:2227"}, 'lies in a grid of "US survey foot" and does not say the'),
    ],
    ids=["crs", "place", "flat", "rgb", "bands", "palette", "complex", "feet", "vertical", "grid"],
)
def test_geotiffs_that_are_refused(
    tmp_path: Path, cells: Any, more: dict[str, Any], message: str
) -> None:
    info, said = opened(write(tmp_path / "t.tif", cells, **more))
    assert info is None
    assert len(said) == 1
    assert said[0].startswith("t.tif: " + message)


def test_refused_each_time_it_is_asked(tmp_path: Path) -> None:
    path, problems = write(tmp_path / "t.tif", units="ft"), Problems()
    for _ in range(2):
        assert open_raster(path, "t.tif", problems) is None


@pytest.mark.parametrize("more", [{"crs": "EPSG:25832+5783"}, {"crs": "EPSG:2227", "units": "m"}])
def test_heights_said_to_be_in_metres(tmp_path: Path, more: dict[str, Any]) -> None:
    info, said = opened(write(tmp_path / "t.tif", **more))
    assert said == []
    assert info is not None


def test_too_many_cells_are_refused_before_reading(tmp_path: Path) -> None:
    profile = {"sparse_ok": True, "tiled": True, "crs": UTM, "dtype": "int16", "count": 1}
    place = Affine(1.0, 0.0, 6e5, 0.0, -1.0, 52e5)
    with rasterio.open(
        tmp_path / "t.tif",
        "w",
        driver="GTiff",
        width=60_000,
        height=60_000,
        transform=place,
        **profile,
    ):
        pass
    info, said = opened(tmp_path / "t.tif")
    assert info is None
    assert said[0].startswith(
        "t.tif: has 60000 x 60000 cells; wanted at most 1,000,000,000: crop it"
    )


def test_a_damaged_file_says_so_when_read(tmp_path: Path) -> None:
    path = write(tmp_path / "t.tif", np.ones((200, 200)))
    info, said = opened(path)
    assert said == []
    assert info is not None
    path.write_bytes(path.read_bytes()[:2000])
    with pytest.raises(BadInput, match=r"t\.tif: cannot be read"):
        read_window(info, 0, 199, 0, 199)


@pytest.fixture
def asked() -> Iterator[tuple[str, list[str]]]:
    """A web server on this machine: its address, and every path anybody asks it for."""
    paths: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            paths.append(self.path)
            self.send_error(404)

        def do_HEAD(self) -> None:
            self.do_GET()

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", paths
    server.shutdown()
    thread.join()
    server.server_close()


def test_nothing_is_fetched(tmp_path: Path, asked: tuple[str, list[str]]) -> None:
    address, paths = asked
    write(tmp_path / "t.tif")

    def fetch(name: str) -> None:
        with pytest.raises(rasterio.errors.RasterioIOError):
            rasterio.open(f"/vsicurl/{address}/{name}.tif")

    with raster._opened(tmp_path / "t.tif", "GTiff"):
        fetch("inside")
    assert paths == []
    fetch("outside")  # the server hears whoever is not cut off
    assert "/outside.tif" in paths


@pytest.mark.real
def test_real_grids(real: Path) -> None:
    info, said = opened(real / "dem" / "avaHit.asc")
    assert said == []
    assert info is not None
    cells = read_window(info, 0, info.rows - 1, 0, info.cols - 1)
    # shared/real/SOURCES.md: 32 % no-data
    assert np.isnan(cells).mean() == pytest.approx(0.32, abs=0.005)
    info, said = opened(real / "dem" / "carrizo.tif")
    assert info is None
    assert "carrizo.tif: says no coordinate system (CRS)" in said[0]
