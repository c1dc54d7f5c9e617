"""A raster that cannot show a lip: every command says so, with the size of its cells."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from typer.testing import CliRunner

from shotplan import plan
from shotplan.cli import app
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from shotplan.output import answer
from tests.intake.test_new import RULES
from tests.worlds import SIDE_TRACK, gpx_text, straight, write_site

Array = NDArray[np.float64]
SAYS = "terrain.tif has one post every 62 m: it cannot show a lip"


def canyon(east: Array, _north: Array) -> Array:
    """A plateau that ends in a wall of 80 m, 15 m east of the ride."""
    return np.where(east > 15.0, 220.0, 300.0)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """62 m posts: the wall is a slope of 50°, whose lip may lie 60 m from where it is."""
    shot = {**SIDE_TRACK, "side": "right", "distance_m": 10.0, "height_m": 8.0}
    return write_site(
        tmp_path_factory.mktemp("canyon"), terrain=canyon, cell_m=62.0, site={"shot": [shot]}
    )


def said(*words: object) -> str:
    ended = CliRunner().invoke(app, [str(w) for w in words])
    assert ended.exit_code in (0, 1, 2, 3), ended.output
    return " ".join(ended.stdout.split())


def test_survey_says_it_once(folder: Path) -> None:
    assert said("survey", folder).count(SAYS) == 1


def test_plan_and_brief_say_it_and_the_ground_is_unknown(folder: Path) -> None:
    made = plan.make(read(folder))
    assert any(line.startswith(SAYS) for line in answer.answer(made).read)
    assert any(line.startswith(SAYS) for line in answer.cautions(made))  # the brief's
    (shot,) = made.shots
    ground = shot.finding("ground")
    assert ground.verdict == Verdict.UNKNOWN
    assert "too coarse to say" in ground.reason


def test_new_says_it(folder: Path, tmp_path: Path) -> None:
    shutil.copy(folder / "terrain.tif", tmp_path / "terrain.tif")
    ride = gpx_text(straight(0.0), np.array([0.0, 40.0]))
    (tmp_path / "r.gpx").write_text(ride, "utf-8")
    given = ("--ride", tmp_path / "r.gpx", "--terrain", tmp_path / "terrain.tif")
    assert SAYS in said("new", tmp_path / "site", *given, "--rules", RULES)


def test_of_fine_terrain_nothing_is_said(tmp_path: Path) -> None:
    assert "cannot show a lip" not in said("survey", write_site(tmp_path, terrain=canyon))
