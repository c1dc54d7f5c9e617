"""`shotplan light` as a person runs it."""

from __future__ import annotations

import json
from datetime import UTC, datetime
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


def names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir() if not p.name.startswith(".")}


def test_it_tells_the_day_of_the_start_and_draws_it(heath: Path) -> None:
    ended = run("light", heath)
    assert ended.exit_code == 0
    assert ended.stdout.startswith("Sat 20 June 2026")
    assert "A clear hours" in ended.stdout
    assert "wrote light.png" in ended.stderr
    assert (heath / "out" / "light.png").read_bytes().startswith(b"\x89PNG")


def test_plan_and_light_leave_each_others_files_alone(heath: Path, tmp_path: Path) -> None:
    out = tmp_path / "o"
    assert run("light", heath, "--out", out).exit_code == 0
    assert run("plan", heath, "--out", out).exit_code in (0, 1, 3)
    assert {"light.png", "map.html", "report.json"} <= names(out)
    assert run("light", heath, "--out", out, "--date", "2026-09-01").exit_code == 0
    assert {"light.png", "map.html", "report.json"} <= names(out)


def test_a_foreign_picture_is_not_overwritten_unless_forced(heath: Path, tmp_path: Path) -> None:
    mine = tmp_path / "light.png"
    mine.write_bytes(b"my own")
    ended = run("light", heath, "--out", tmp_path)
    assert ended.exit_code == 2
    assert mine.read_bytes() == b"my own"
    assert "was not written by shotplan" in ended.stderr
    assert run("light", heath, "--out", tmp_path, "--force").exit_code == 0
    assert mine.read_bytes() != b"my own"


def test_several_days_as_json(heath: Path, tmp_path: Path) -> None:
    ended = run("light", heath, "--date", "2026-12-31", "--days", "2", "--json", "--out", tmp_path)
    assert [d["date"] for d in json.loads(ended.stdout)] == ["2026-12-31", "2027-01-01"]


@pytest.mark.parametrize(
    "wrong", [["--date", "1901-05-01"], ["--date", "yesterday"], ["--days", "0"], ["--days", "999"]]
)
def test_wrong_days_are_refused(heath: Path, tmp_path: Path, wrong: list[str]) -> None:
    ended = run("light", heath, "--out", tmp_path / "o", *wrong)
    assert ended.exit_code == 2
    assert ended.stderr
    assert not (tmp_path / "o").exists()


def test_a_folder_that_is_none_is_said(tmp_path: Path) -> None:
    ended = run("light", tmp_path / "nowhere")
    assert ended.exit_code == 2
    assert "there is no such folder" in ended.stderr


def test_with_a_forecast_it_says_when_it_is_calm_too(heath: Path, tmp_path: Path) -> None:
    table = tmp_path / "hours.csv"
    lines = ["time,wind (km/h),gust (km/h)"]
    lines += [
        f"2026-06-20T{h:02}:00Z,10,{20 if h < 10 else 72 if h < 15 else ''}" for h in range(24)
    ]
    table.write_text("\n".join(lines))
    ended = run("light", heath, "--forecast", table, "--out", tmp_path / "o")
    assert ended.exit_code == 0, ended.output
    assert "at most 20.0 m/s" in ended.stdout
    assert "7 of 22 hours say no gust: unknown" in " ".join(ended.stdout.split())
    assert "A clear and calm" in ended.stdout
    assert "10 m above open ground" in " ".join(ended.stderr.split())
    told = run("light", heath, "--forecast", table, "--json", "--out", tmp_path / "o")
    (day,) = json.loads(told.stdout)
    (spans,) = day["forecast"]["clear_and_calm"].values()
    assert spans
    # until 10:00 UTC, whatever zone the site prints
    assert {datetime.fromisoformat(b).astimezone(UTC).hour for _, b in spans} <= set(range(11))
    table.write_text("time,wind\n2026-06-20T10:00Z,3\n")
    bad = run("light", heath, "--forecast", table, "--out", tmp_path / "o")
    assert bad.exit_code == 2
    assert "does not say its unit" in bad.stderr
