"""`shotplan add` and the same options of `new`, as typed."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from shotplan.cli import app
from shotplan.intake import surveys
from shotplan.outing import read
from tests import worlds
from tests.intake.made_found import Readers, lidar, osm, tree
from tests.intake.test_add import held, recording, site


@pytest.fixture
def readers(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Readers:
    return Readers(monkeypatch, tmp_path)


def run(*args: str) -> Any:
    return CliRunner().invoke(app, args)


def test_it_adds_and_says_what_was_found(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s", terrain=None)
    readers.found = {"lidar": lidar(), "osm": osm(tree("osm", 1, 6.0, 20.0), said=("1 tree",))}
    files = str(readers.files["lidar"]), "--osm", str(readers.files["osm"])
    done = run("add", str(folder), "--lidar", *files)
    assert done.exit_code == 0, done.output
    assert "lidar: lidar.laz\n- 22 points/m²" in done.stdout
    assert "left out: lidar has them" in done.stdout.replace("\n  ", " ")
    assert f"shotplan survey {folder}" in done.stderr
    assert len(done.stdout.splitlines()) <= 25
    assert len(read(folder).site.sources) == 2
    (_, ride), _ = readers.asked
    assert len(ride) > 100  # the ride that is filmed, in degrees
    assert abs(ride[0] - worlds.lonlat(-100.0, 0.0)).max() < 1e-6


@pytest.mark.parametrize("spread", [True, False])
def test_several_tiles_after_one_option_or_one_each(
    tmp_path: Path, readers: Readers, spread: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = site(tmp_path / "s")
    given: list[Path] = []

    def lidars(asked: surveys.Surveys, *_: Any) -> list[Any]:
        given.extend(asked.lidar)
        return [lidar()]

    monkeypatch.setattr(surveys, "_lidar", lidars)
    tiles = [tmp_path / f"{k}.{end}" for k, end in enumerate(("laz", "LAZ", "las"))]
    for tile in tiles:
        tile.write_bytes(b"x")
    names = [str(t) for t in tiles]
    options = ["--lidar", *names] if spread else [a for n in names for a in ("--lidar", n)]
    done = run("add", *options, str(folder))
    assert done.exit_code == 0, done.output
    assert given == tiles


def test_a_long_answer_is_cut(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s")
    many = tuple(f"sentence {k}" for k in range(40))
    readers.found = {"lidar": lidar(said=many), "osm": osm(said=many)}
    done = run("add", str(folder), "--lidar", str(readers.files["lidar"]),
               "--osm", str(readers.files["osm"]))  # fmt: skip
    assert len(done.stdout.splitlines()) <= 30
    assert "more" in done.stdout


def test_one_message_exit_2_and_nothing_written(tmp_path: Path, readers: Readers) -> None:
    folder = site(tmp_path / "s")
    before = held(folder)
    readers.found = {"lidar": "not LAZ \x1b[31m", "osm": "another continent"}
    done = run("add", str(folder), "--lidar", str(readers.files["lidar"]),
               "--osm", str(readers.files["osm"]))  # fmt: skip
    assert done.exit_code == 2
    assert "2 problems found" in done.stderr
    assert "\x1b" not in done.stderr
    assert held(folder) == before
    nothing = run("add", str(folder))
    assert nothing.exit_code == 2
    assert "wanted --lidar, --canopy, --surface" in nothing.stderr
    missing = run("add", str(tmp_path / "no"), "--osm", str(readers.files["osm"]))
    assert missing.exit_code == 2


def test_what_would_not_read_is_not_written(tmp_path: Path, readers: Readers) -> None:
    """The last check is the site's own reading, with everything in it."""
    folder = site(tmp_path / "s")
    before = held(folder)
    bad = tree("osm", 1, 6.0, 20.0, height_m=-3.0)
    readers.found["osm"] = osm(bad)
    done = run("add", str(folder), "--osm", str(readers.files["osm"]))
    assert done.exit_code == 2
    assert "osm-tree-0001" in done.stderr
    assert held(folder) == before


@pytest.mark.skipif(sys.platform == "win32", reason="folders there have no such mode")
def test_a_folder_that_cannot_be_written_is_said(
    tmp_path: Path, readers: Readers, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = site(tmp_path / "s")
    before = held(folder)
    readers.found["osm"] = osm(tree("osm", 1, 6.0, 20.0))
    opened = Path.open

    def refusing(self: Path, mode: str = "r", *args: Any, **more: Any) -> Any:
        if "x" in mode and self.parent == folder:
            raise PermissionError(13, "Permission denied", str(self))
        return opened(self, mode, *args, **more)

    monkeypatch.setattr(Path, "open", refusing)
    done = run("add", str(folder), "--osm", str(readers.files["osm"]))
    monkeypatch.undo()
    assert done.exit_code == 2
    assert "Permission denied" in done.stderr
    assert "Traceback" not in done.stderr
    assert held(folder) == before


def test_new_takes_the_same_options(tmp_path: Path, readers: Readers) -> None:
    readers.found = {"lidar": lidar(), "osm": osm(tree("osm", 1, 60.0, 20.0), said=("1 tree",))}
    ride = recording(tmp_path / "r.gpx", "2026-06-02")
    done = run("new", str(tmp_path / "s"), "--ride", str(ride), "--rules", "eu-open-a1",
               "--boundary-around", "80", "--lidar", str(readers.files["lidar"]),
               "--osm", str(readers.files["osm"]))  # fmt: skip
    assert done.exit_code == 0, done.output
    assert "osm: osm.osm\n- 1 tree" in done.stdout
    assert "lidar-terrain.tif" in done.stderr
    assert ".written" not in done.stderr
    outing = read(tmp_path / "s")
    assert len(outing.site.obstacles.things) == 2
    assert outing.site.sources[0].read == date.today()
    readers.found["osm"] = "another continent"
    refused = run("new", str(tmp_path / "t"), "--ride", str(ride), "--rules", "eu-open-a1",
                  "--osm", str(readers.files["osm"]))  # fmt: skip
    assert refused.exit_code == 2
    assert not (tmp_path / "t").exists()
