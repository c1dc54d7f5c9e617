"""`shotplan brief` as a person runs it."""

from __future__ import annotations

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


def test_it_plans_and_writes_three_files(heath: Path) -> None:
    ended = run("brief", heath)
    assert ended.exit_code == run("plan", heath, "--json").exit_code
    assert "computed, not a permission" in ended.stdout
    assert "wrote brief.html, brief.pdf, landowner.pdf" in ended.stderr
    out = heath / "out"
    assert names(out) >= FILES
    for name in ("brief.pdf", "landowner.pdf"):
        assert (out / name).read_bytes().startswith(b"%PDF")
    assert (out / "brief.html").read_bytes().startswith(b"<!doctype html>")


def test_plan_and_brief_leave_each_others_files_alone(heath: Path, tmp_path: Path) -> None:
    out = tmp_path / "o"
    for command in ("brief", "plan", "brief"):
        assert run(command, heath, "--out", out).exit_code in (0, 1, 3)
    assert names(out) >= {*FILES, "map.html", "report.json"}


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
