"""`shotplan new` as a person runs it."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from shotplan.cli import app
from tests.intake.test_new import RULES, recording


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    base = tmp_path_factory.mktemp("new")
    ended = run("new", base / "hill", "--ride", recording(base / "r.gpx"), "--rules", RULES)
    assert ended.exit_code == 0, ended.output
    return base / "hill"


def test_it_lists_what_was_guessed_and_what_is_missing(tmp_path: Path) -> None:
    ride = recording(tmp_path / "r.gpx")
    ended = run("new", tmp_path / "s", "--ride", ride, "--rules", RULES)
    guessed, _, missing = ended.stdout.partition("Missing: ")
    assert "launch" in guessed
    assert "no boundary" in missing
    assert "no wind" in missing
    assert "started" in ended.stderr
    assert "shotplan survey" in ended.stderr


def test_the_plan_of_it_is_unknown_and_says_first_what_is_missing(folder: Path) -> None:
    text = (folder / "site.toml").read_text("utf-8")
    (folder / "site.toml").write_text(f"{text}\n[disturbance]\nrides = 1\n", "utf-8")
    ended = run("plan", folder, "--explain")
    assert ended.exit_code == 3, ended.output
    lines = ended.stdout.splitlines()
    assert lines[0].split() == ["hill", "unknown"]
    told = [line.split()[:2] for line in lines if line.strip().startswith("A")]
    pinned = [words for words in told if words[0][2:].isdigit()]
    assert pinned[0] == ["A·1", "unknown"]


def test_what_is_needed_is_said_in_one_go(tmp_path: Path) -> None:
    ended = run("new", tmp_path / "s")
    assert ended.exit_code == 2
    assert ended.stderr.splitlines()[0] == "2 problems found:"
    assert "--start" in ended.stderr
    assert RULES in ended.stderr
    assert not (tmp_path / "s").exists()


def test_what_cannot_be_planned_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    """A recording that jumps: only the reader of a site finds that out."""
    ride = recording(tmp_path / "r.gpx", metres=10.0)
    text = ride.read_text("utf-8").replace("09:30:02", "09:30:01")
    ride.write_text(text.replace('lat="46.0', 'lat="16.0', 1), "utf-8")
    ended = run("new", tmp_path / "s", "--ride", ride, "--rules", RULES)
    assert ended.exit_code == 2, ended.output
    assert not (tmp_path / "s").exists()


def test_a_second_time_is_refused(folder: Path) -> None:
    before = {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}
    ended = run("new", folder, "--rules", RULES, "--start", "2026-06-20T20:10:00+01:00")
    assert ended.exit_code == 2
    assert "nothing is overwritten" in ended.stderr
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == before
