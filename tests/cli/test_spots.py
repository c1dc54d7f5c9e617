"""`shotplan spots` as a person runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from shotplan.cli import app
from tests.worlds import write_site


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


@pytest.fixture(scope="module")
def heath(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_site(tmp_path_factory.mktemp("heath") / "site")


def test_it_tells_three_places_a_role_and_draws_them(heath: Path) -> None:
    ended = run("spots", heath)
    assert ended.exit_code == 0, ended.stderr
    for role in ("launch", "pilot", "spotter"):
        assert all(f"{role} {number} " in ended.stdout for number in (1, 2, 3))
    assert "pilot now" in ended.stdout
    assert "score of a pilot, out of 1: 60 % the share of the flight seen" in ended.stderr
    assert "wrote spots.png" in ended.stderr
    assert (heath / "out" / "spots.png").read_bytes().startswith(b"\x89PNG")


def test_the_same_folder_gives_the_same_bytes(heath: Path, tmp_path: Path) -> None:
    ended = [run("spots", heath, "--json", "--out", tmp_path / name) for name in ("a", "b")]
    assert ended[0].stdout == ended[1].stdout
    pictures = [(tmp_path / name / "spots.png").read_bytes() for name in ("a", "b")]
    assert pictures[0] == pictures[1]
    found = json.loads(ended[0].stdout)
    assert [len(found["proposals"][role]) for role in ("launch", "pilot", "spotter")] == [3, 3, 3]
    assert found["now"][0]["place"] == "launch"


def test_a_foreign_picture_is_refused_before_the_search(heath: Path, tmp_path: Path) -> None:
    mine = tmp_path / "spots.png"
    mine.write_bytes(b"my own")
    ended = run("spots", heath, "--out", tmp_path)
    assert ended.exit_code == 2
    assert mine.read_bytes() == b"my own"
    assert "was not written by shotplan" in ended.stderr
    assert run("spots", heath, "--out", tmp_path, "--force").exit_code == 0
    assert mine.read_bytes() != b"my own"


def test_other_commands_files_are_left_alone(heath: Path, tmp_path: Path) -> None:
    assert run("light", heath, "--out", tmp_path).exit_code == 0
    assert run("spots", heath, "--out", tmp_path).exit_code == 0
    assert {"light.png", "spots.png"} <= {p.name for p in tmp_path.iterdir()}


def test_no_shot_is_said(tmp_path: Path) -> None:
    ended = run("spots", write_site(tmp_path / "bare", site={"shot": None}))
    assert ended.exit_code == 2
    assert "shot" in ended.stderr
    assert not (tmp_path / "bare" / "out").exists()


def test_a_folder_that_is_none_is_said(tmp_path: Path) -> None:
    ended = run("spots", tmp_path / "nowhere")
    assert ended.exit_code == 2
    assert "there is no such folder" in ended.stderr
