"""A folder that was sent to somebody reads nothing but itself."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from shotplan.cli import app
from shotplan.errors import BadInput, Problems
from shotplan.files.geojson import read_geojson
from shotplan.files.gpx import read_gpx
from shotplan.files.raster import LARGEST_PRJ, open_raster
from shotplan.outing import read
from tests.worlds import write_site

SECRET = "root:x:0:0:kept to oneself"
NAMED: dict[str, dict[str, Any]] = {
    "ground": {"ground": "../secret.geojson"},
    "terrain": {"terrain_m": None, "terrain": "../secret.asc"},
    "surroundings": {"terrain_m": None, "terrain": "t.asc", "surroundings": "../secret.tif"},
    "rules": {"rules": "../secret.toml"},
    "[ride] path": {"ride": {"path": "../secret.gpx"}},
    "[aircraft] class": {"aircraft": {"class": "../secret.toml"}},
}


def spread(tmp_path: Path) -> None:
    for ending in ("geojson", "asc", "tif", "toml", "gpx"):
        (tmp_path / f"secret.{ending}").write_text(SECRET)


@pytest.mark.parametrize("key", NAMED)
def test_a_file_outside_is_refused_before_it_is_opened(tmp_path: Path, key: str) -> None:
    spread(tmp_path)
    folder = write_site(tmp_path / "s", site=NAMED[key])
    with pytest.raises(BadInput) as caught:
        read(folder)
    (problem,) = caught.value.problems
    assert problem.where == f"site.toml: {key}"
    assert "--allow-outside" in problem.what
    with pytest.raises(BadInput) as caught:
        read(folder, allow_outside=True)
    assert "--allow-outside" not in str(caught.value)  # now it is opened, and no such file
    assert "kept to oneself" not in str(caught.value)


def test_each_of_several_recordings_lies_inside(tmp_path: Path) -> None:
    spread(tmp_path)
    paths = {"ride": {"path": ["ride.gpx", "../secret.gpx"]}}
    with pytest.raises(BadInput, match=r"\[ride\] path: \"\.\./secret\.gpx\" lies outside"):
        read(write_site(tmp_path / "s", site=paths))


def test_absolute_paths_and_links_are_no_way_out_either(tmp_path: Path) -> None:
    spread(tmp_path)
    for name in (str(tmp_path / "secret.asc"), "linked.asc"):
        folder = write_site(tmp_path / "s", site={"terrain_m": None, "terrain": name})
        if not (folder / "linked.asc").is_symlink():
            (folder / "linked.asc").symlink_to(tmp_path / "secret.asc")
        with pytest.raises(BadInput, match="outside the folder"):
            read(folder)


def test_the_prj_beside_a_grid_is_no_way_out(tmp_path: Path) -> None:
    spread(tmp_path)
    folder = write_site(tmp_path / "s", site={"terrain_m": None, "terrain": "t.asc"})
    (folder / "t.asc").write_text("ncols 2\n")
    (folder / "t.prj").symlink_to(tmp_path / "secret.toml")
    with pytest.raises(BadInput, match=r"t\.prj. lies outside the folder"):
        read(folder)


def test_what_lies_inside_is_read_however_it_is_written(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "s", site={"ground": "./sub/../ground.geojson"})
    (folder / "sub").mkdir()
    assert read(folder).site.name == "Test heath"
    (tmp_path / "link").symlink_to(folder)
    assert read(tmp_path / "link").site.name == "Test heath"


def test_a_person_may_say_that_it_is_their_own(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "s", site={"ground": "../ground.geojson"})
    (folder / "ground.geojson").rename(tmp_path / "ground.geojson")
    words = ["light", str(folder), "--out", str(tmp_path / "out")]
    refused = CliRunner().invoke(app, words)
    assert refused.exit_code == 2
    assert "--allow-outside" in refused.stderr
    assert read(folder, allow_outside=True).site.boundary is not None
    for command in ("plan", "survey", "styles", "spots", "light", "brief"):
        assert "--allow-outside" in CliRunner().invoke(app, [command, "--help"]).stdout


@pytest.mark.parametrize("ending", ["asc", "tif", "hgt"])
def test_no_message_quotes_a_file_that_is_not_ours(tmp_path: Path, ending: str) -> None:
    spread(tmp_path)
    for text in (SECRET, f"<{SECRET}>", f'"{SECRET}"', f"<gpx {SECRET}>", f"<gpx a='{SECRET}'>"):
        problems = Problems()
        for name in (f"f.{ending}", "f.gpx", "f.geojson"):
            (tmp_path / name).write_text(text)
        open_raster(tmp_path / f"f.{ending}", "f", problems)
        read_gpx(tmp_path / "f.gpx", "f", problems)
        read_geojson(tmp_path / "f.geojson", "f", problems)
        assert len(problems) >= 2
        assert not any(
            word in str(p) for p in problems.found for word in ("x:0", "kept", "oneself")
        )


GRID = "ncols 2\nnrows 2\nxllcorner 500000\nyllcorner 5000000\ncellsize 10\n1 2\n3 4\n"


@settings(max_examples=60, deadline=None, derandomize=True, database=None)
@given(st.binary(max_size=200) | st.sampled_from([b"\0", b"GEOGCS[", b"PROJCS[\0]", b"EPSG:4326"]))
def test_a_prj_of_any_kind_is_a_message(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    folder = tmp_path_factory.mktemp("prj")
    (folder / "t.asc").write_text(GRID)
    (folder / "t.prj").write_bytes(data)
    problems = Problems()
    assert (open_raster(folder / "t.asc", "t.asc", problems) is None) == (len(problems) > 0)


def test_a_prj_of_any_size_is_read_with_a_limit(tmp_path: Path) -> None:
    (tmp_path / "t.asc").write_text(GRID)
    with (tmp_path / "t.prj").open("wb") as file:
        file.truncate(8_000_000_000)  # a hole: it takes no room, and all of it no memory has
    problems = Problems()
    assert open_raster(tmp_path / "t.asc", "t.asc", problems) is None
    assert "too large" in str(problems.found[0])
    (tmp_path / "t.prj").unlink()
    os.mkfifo(tmp_path / "t.prj")  # never ends
    assert open_raster(tmp_path / "t.asc", "t.asc", problems) is None
    assert LARGEST_PRJ < 1_000_000
