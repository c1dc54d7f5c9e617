"""`shotplan plan` answers first and draws after: what stands there when, and what is said."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

import shotplan as sp
from shotplan import output, side_by_side
from shotplan.cli import app
from shotplan.judging.judged import Plan
from shotplan.output import Output, report
from tests.worlds import SIDE_TRACK, tree, write_site

NOTE = "not-finished.txt"
STRIPS = ("strip-A.png", "strip-B.png", "strip-C.png")  # one a shot


@pytest.fixture(scope="module")
def heath(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three shots; the second one is no-go."""
    shots = [
        {**SIDE_TRACK, "name": "wide", "distance_m": 16.0, "takes": 2},
        {**SIDE_TRACK, "name": "near"},
        {**SIDE_TRACK, "name": "wider", "distance_m": 20.0},
    ]
    oak = tree("oak", east_m=-12.0, north_m=0.0)
    return write_site(
        tmp_path_factory.mktemp("heath") / "site", features=[oak], site={"shot": shots}
    )


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


def names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir() if p.name[0] != "."}


def slow(plan: Plan) -> dict[str, bytes]:
    time.sleep(900.0)
    return {}


def broken(plan: Plan) -> dict[str, bytes]:
    raise ZeroDivisionError("of a picture")


@pytest.mark.usefixtures("few_pictures")
@pytest.mark.parametrize(
    ("only", "written"),
    [
        ("none", {"report.json"}),
        ("map", {"report.json", "map.html"}),
        ("strip, map", {"report.json", "map.html", *STRIPS}),
    ],
)
def test_only_some_are_made(heath: Path, tmp_path: Path, only: str, written: set[str]) -> None:
    assert run("plan", heath, "--out", tmp_path, "--only", only).exit_code == 1
    assert names(tmp_path) == written


@pytest.mark.usefixtures("few_pictures")
def test_what_is_not_made_again_is_gone(heath: Path, tmp_path: Path) -> None:
    run("plan", heath, "--out", tmp_path)
    assert "map.html" in names(tmp_path)
    run("plan", heath, "--out", tmp_path, "--only", "strip")
    assert names(tmp_path) == {"report.json", *STRIPS}


def test_an_output_that_nobody_knows_is_refused_before_anything(
    heath: Path, tmp_path: Path
) -> None:
    ended = run("plan", heath, "--out", tmp_path / "o", "--only", "map,film")
    assert ended.exit_code == 2
    assert "--only: got 'film', wanted one of: report, map, " in ended.stderr
    assert not (tmp_path / "o").exists()


def test_one_shot_is_judged_as_in_the_whole_day(heath: Path, tmp_path: Path) -> None:
    assert run("plan", heath, "--out", tmp_path, "--only", "none").exit_code == 1
    whole = json.loads((tmp_path / "report.json").read_text("utf-8"))
    for shot in whole["shots"]:
        run("plan", heath, "--out", tmp_path, "--only", "none", "--shot", shot["name"])
        alone = json.loads((tmp_path / "report.json").read_text("utf-8"))
        assert alone["shots"] == [shot]
        assert alone["verdict"] == shot["verdict"]
    ended = run("plan", heath, "--shot", "nearest")
    assert ended.exit_code == 2
    assert "--shot: got 'nearest', wanted one of: wide, near, wider" in ended.stderr


def test_a_picture_that_fails_leaves_the_others_and_is_named(
    heath: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = [o for o in output.OUTPUTS if o.name in ("report", "map", "strip")]
    kept.insert(1, Output("watch", ("watch-*.png",), broken))
    monkeypatch.setattr(output, "OUTPUTS", tuple(kept))
    ended = run("plan", heath, "--out", tmp_path)
    assert ended.exit_code == 1
    said = "could not make watch-*.png: ZeroDivisionError: of a picture; the rest stands"
    assert said in ended.stderr
    assert "wrote map.html, report.json, strip-A.png, strip-B.png, strip-C.png" in ended.stderr
    assert names(tmp_path) == {"report.json", "map.html", *STRIPS, NOTE}
    assert (tmp_path / NOTE).read_text().splitlines()[1:-1] == ["watch-*.png"]


@pytest.fixture
def drawing(heath: Path, tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """A plan whose second picture takes very long, as another process, begun and answered."""
    code = (
        "import sys; from tests.cli import test_plan_first as it; from shotplan import output\n"
        "kept = [o for o in output.OUTPUTS if o.name in ('report', 'map')]\n"
        "output.OUTPUTS = (*kept, output.Output('strip', ('strip-A.png',), it.slow))\n"
        "from shotplan.cli import main; sys.argv[0] = 'shotplan'; main()\n"
    )
    words = ["plan", str(heath), "--json", "--out", str(tmp_path)]
    run_ = subprocess.Popen(
        [sys.executable, "-c", code, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True, env={**os.environ, side_by_side.SETTING: "2"}, start_new_session=True,
    )  # fmt: skip
    yield run_
    with contextlib.suppress(ProcessLookupError):
        os.killpg(run_.pid, signal.SIGKILL)  # its workers too: they hold the pipes open
    run_.communicate()


def test_the_answer_waits_for_no_picture_and_a_stop_keeps_what_stands(
    drawing: subprocess.Popen[str], tmp_path: Path
) -> None:
    assert drawing.stdout is not None
    told = json.loads(drawing.stdout.read())  # to its end, while a picture is being drawn
    assert drawing.poll() is None
    assert told == json.loads((tmp_path / "report.json").read_text("utf-8"))
    for _ in range(3000):
        if "map.html" in names(tmp_path):
            break
        time.sleep(0.1)
    assert (tmp_path / NOTE).read_text().splitlines()[1:-1] == ["strip-A.png"]
    drawing.send_signal(signal.SIGINT)
    _, said = drawing.communicate(timeout=120.0)
    assert drawing.returncode == 130
    assert f"stopped; map.html, report.json in {tmp_path} are whole" in said
    assert "not drawn: strip-A.png" in said
    assert names(tmp_path) == {"report.json", "map.html", NOTE}


@pytest.mark.parametrize("forks", [True, False])
def test_two_workers_give_the_bytes_of_one(
    heath: Path, forks: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(side_by_side, "FORKS", forks)
    outing = sp.read(heath)
    one, two = (sp.make(outing, rides=20, workers=count) for count in (1, 2))
    assert report.text(one) == report.text(two)
    assert all(s.scene.site is outing.site for s in two)
    kept = [o for o in output.OUTPUTS if o.name in ("map", "strip")]
    made: list[dict[str, bytes]] = [{}, {}]
    for plan, files, workers in ((one, made[0], 1), (two, made[1], 2)):
        for each in output.put_each(plan, kept, lambda files, missing=(): None, workers):
            assert isinstance(each, dict)
            files |= each
    assert made[0] == made[1]
    assert set(made[0]) == {"map.html", *STRIPS}
