"""`shotplan brief` as a person runs it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from shotplan.cli import app
from tests.worlds import write_site

FILES = {"brief.pdf", "brief.html", "landowner.pdf"}


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


@pytest.fixture(scope="module")
def heath(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_site(tmp_path_factory.mktemp("heath") / "site")


def names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir() if not p.name.startswith(".")}


def mark_of(out: Path) -> str:
    """The fingerprint of the plan that lies there."""
    said = json.loads((out / "report.json").read_text("utf-8"))
    return str(said["tool"]).rpartition(", plan ")[2]


def test_it_plans_and_writes_three_files(heath: Path) -> None:
    planned = run("plan", heath, "--json", "--only", "none").exit_code
    ended = run("brief", heath)
    assert ended.exit_code == planned
    assert "computed, not a permission" in ended.stdout
    assert "wrote brief.html, brief.pdf, " in ended.stderr
    assert "landowner.pdf" in ended.stderr
    out = heath / "out"
    assert names(out) >= FILES
    for name in ("brief.pdf", "landowner.pdf"):
        assert (out / name).read_bytes().startswith(b"%PDF")
    assert (out / "brief.html").read_bytes().startswith(b"<!doctype html>")


def test_one_folder_holds_one_plan(heath: Path, tmp_path: Path) -> None:
    out = tmp_path / "o"
    assert run("brief", heath, "--out", out).exit_code in (0, 1, 3)
    assert names(out) >= {*FILES, "map.html", "report.json"}
    ended = run("plan", heath, "--out", out, "--only", "map")
    (said,) = [x for x in ended.stderr.splitlines() if x.startswith("of an older plan and gone: ")]
    assert {*FILES} <= {name.rstrip(",:") for name in said.split()}
    assert "map.html" not in said
    assert f"shotplan brief {heath} makes the brief anew" in " ".join(ended.stderr.split())
    assert names(out) == {"map.html", "report.json"}


def test_a_plan_of_another_day_is_named_by_every_command(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site")
    assert run("plan", site, "--only", "none").exit_code in (0, 1, 3)
    assert "holds plan" not in run("survey", site).stderr
    before = mark_of(site / "out")
    toml = site / "site.toml"
    toml.write_text(toml.read_text("utf-8").replace("14:00", "15:00"), "utf-8")
    for command in ("survey", "light"):
        said = run(command, site).stderr
        assert f"holds plan {before}, not that of the folder as it is now" in said
    assert run("plan", site, "--only", "none").exit_code in (0, 1, 3)
    assert "holds plan" not in run("survey", site).stderr


def test_every_sheet_carries_the_plans_fingerprint(heath: Path, tmp_path: Path) -> None:
    assert run("brief", heath, "--out", tmp_path / "o").exit_code in (0, 1, 3)
    out = tmp_path / "o"
    mark = mark_of(out)
    assert re.fullmatch("[0-9a-f]{4}", mark)
    for name in ("map.html", "plan.kml", "plan.gpx", "plan.geojson", "plan.ics"):
        assert f"Plan {mark}" in (out / name).read_text("utf-8").replace("\r\n ", ""), name
    assert f"Plan {mark}" in run("plan", heath, "--out", out, "--only", "none").stdout


def test_letter_is_another_sheet(heath: Path, tmp_path: Path) -> None:
    made = {}
    for paper in ("a4", "letter"):
        out = tmp_path / paper
        assert run("brief", heath, "--paper", paper, "--out", out).exit_code in (0, 1, 3)
        made[paper] = {name: (out / name).read_bytes() for name in FILES}
    assert made["a4"]["brief.pdf"] != made["letter"]["brief.pdf"]
    assert made["a4"]["brief.html"] == made["letter"]["brief.html"]


def test_a_foreign_file_is_not_overwritten_unless_forced(heath: Path, tmp_path: Path) -> None:
    mine = tmp_path / "landowner.pdf"
    mine.write_bytes(b"my own")
    ended = run("brief", heath, "--out", tmp_path)
    assert ended.exit_code == 2
    assert mine.read_bytes() == b"my own"
    assert "was not written by shotplan" in ended.stderr
    assert not (tmp_path / "brief.pdf").exists()
    assert run("brief", heath, "--out", tmp_path, "--force").exit_code in (0, 1, 3)
    assert mine.read_bytes() != b"my own"


def test_what_is_wrong_is_refused(heath: Path, tmp_path: Path) -> None:
    assert run("brief", heath, "--paper", "napkin").exit_code == 2
    ended = run("brief", tmp_path / "nowhere")
    assert ended.exit_code == 2
    assert "there is no such folder" in ended.stderr
