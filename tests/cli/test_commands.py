"""The commands as a person runs them, on small sites written for the occasion."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from shotplan import plan as planning
from shotplan.cli import app
from shotplan.files.bundled import aircraft_files, bundled_sites, pack_files
from shotplan.judging.judged import Plan
from shotplan.outing import Outing
from tests.output.hostile import EVERY
from tests.shared_plans import outing_of, plan_of
from tests.worlds import SIDE_TRACK, place, tree, write_site

pytestmark = pytest.mark.usefixtures("few_pictures")


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


@pytest.fixture(scope="module")
def heath(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site where nothing is in the way."""
    return write_site(tmp_path_factory.mktemp("heath") / "site")


@pytest.fixture(scope="module")
def blocked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with a tree in the aircraft's way: riding north, it flies 12 m to the west."""
    oak = tree("oak", east_m=-12.0, north_m=0.0)
    return write_site(tmp_path_factory.mktemp("blocked") / "site", features=[oak])


def names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir()}


def answered(*words: object) -> Result:
    """`plan` without its pictures: what is asked is the answer."""
    return run("plan", *words, "--only", "none")


def test_plan_writes_into_out_and_tells_on_stdout(heath: Path) -> None:
    ended = run("plan", heath)
    assert ended.exit_code == 0
    written = names(heath / "out")
    assert written >= {"report.json", "map.html", "strip-A.png", ".written-by-shotplan.json"}
    assert ended.stdout.startswith("Test heath   ")
    told = ", ".join(sorted(written - {".written-by-shotplan.json"}))
    assert f"wrote {told} to " in ended.stderr
    said = json.loads((heath / "out" / "report.json").read_text(encoding="utf-8"))
    assert said["site"] == "Test heath"
    assert run("plan", heath).exit_code == 0


def test_no_go_is_exit_code_1_and_says_what_decides(blocked: Path, tmp_path: Path) -> None:
    ended = answered(blocked, "--out", tmp_path / "o")
    assert ended.exit_code == 1
    rows = ended.stdout.splitlines()
    assert rows[0] == f"{'Test heath':<75}no-go"
    assert "   It hits oak: 0.0 m, needs 2.2." in rows
    rows = answered(blocked, "--explain", "--out", tmp_path / "o").stdout.splitlines()
    first = next(row for row in rows if row.strip().startswith("A·1"))
    assert re.match(r" +A·1 +no-go +clearance \(.+\?\): 0\.0 m, needs 2\.2 m$", first)
    assert names(blocked) == {"ground.geojson", "site.toml"}


def test_long_sentences_are_said_once_and_the_law_comes_last(tmp_path: Path) -> None:
    oak = tree("oak", east_m=-12.0, north_m=0.0)
    shots = [{**SIDE_TRACK, "name": name} for name in ("one way", "the same again")]
    site = write_site(tmp_path / "site", site={"shot": shots}, features=[oak])
    short = answered(site).stdout
    assert "the limit of 2.18 m" not in short
    assert short.count("It hits oak: 0.0 m, needs 2.2.") == 2
    text = answered(site, "--explain").stdout
    assert "\n2 no-go\n" in text
    joined = " ".join(text.split())
    assert joined.count("the limit of 2.18 m is") == 1
    assert joined.count("clearance: oak") == 2
    heads = ("Before you fly", "Reminders of the rule pack")
    assert [joined.count(h) for h in heads] == [1, 1]
    assert joined.index(heads[0]) < joined.index(heads[1])
    assert "contingency volume" not in short
    assert "contingency volume" in joined


def test_unknown_is_exit_code_3(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site", site={"survey": None})
    ended = answered(site)
    assert ended.exit_code == 3
    assert ended.stdout.startswith(f"{'Test heath':<73}unknown\n")


def test_json_is_the_report_and_nothing_else(blocked: Path, tmp_path: Path) -> None:
    ended = answered(blocked, "--json", "--out", tmp_path / "o")
    assert ended.exit_code == 1
    assert ended.stdout == (tmp_path / "o" / "report.json").read_text(encoding="utf-8")


def test_explain_tells_assumptions_and_sources(heath: Path, tmp_path: Path) -> None:
    text = answered(heath, "--explain", "--out", tmp_path / "o").stdout
    assert "Taken for granted" in text
    assert "What each check rests on" in text


def test_track_is_written_and_a_foreign_file_is_not_overwritten(
    heath: Path, tmp_path: Path
) -> None:
    path = tmp_path / "t.csv"
    assert answered(heath, "--track", path, "--out", tmp_path / "o").exit_code == 0
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    assert len(rows) > 100
    assert answered(heath, "--track", path, "--out", tmp_path / "o").exit_code == 0
    path.write_text("my notes")
    ended = run("plan", heath, "--track", path, "--out", tmp_path / "p")
    assert ended.exit_code == 2
    assert path.read_text() == "my notes"
    assert not (tmp_path / "p").exists()


def test_results_of_others_are_not_overwritten(heath: Path, tmp_path: Path) -> None:
    (tmp_path / "map.html").write_text("mine")
    ended = run("plan", heath, "--out", tmp_path)
    assert ended.exit_code == 2
    assert "map.html" in ended.stderr
    assert names(tmp_path) == {"map.html"}
    assert run("plan", heath, "--out", tmp_path, "--force").exit_code == 0
    assert (tmp_path / "map.html").read_text(encoding="utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize("command", ["plan", "survey"])
def test_bad_input_lists_every_problem_once_and_writes_nothing(
    command: str, tmp_path: Path
) -> None:
    shot = {**SIDE_TRACK, "distance_m": -3.0}
    site = write_site(
        tmp_path / "site",
        site={"keep_clear_m": -1.0, "shot": [shot]},
        features=[tree("oak", east_m=0.0, north_m=0.0, height_m=-2.0)],
    )
    ended = run(command, site)
    assert ended.exit_code == 2
    assert ended.stdout == ""
    assert "Traceback" not in ended.stderr
    lines = ended.stderr.splitlines()
    assert lines[0] == f"{len(lines) - 1} problems found:"
    for word in ("keep_clear_m", "distance_m", "oak"):
        assert sum(word in line for line in lines) == 1, lines
    assert not (site / "out").exists()


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    ended = run("plan", tmp_path / "nowhere")
    assert ended.exit_code == 2
    assert "problem" in ended.stderr
    assert not (tmp_path / "nowhere").exists()


def test_wrong_usage_is_exit_code_2(heath: Path) -> None:
    assert run("plan").exit_code == 2
    assert run("plan", heath, "--no-such").exit_code == 2
    assert run("nonsense").exit_code == 2


def test_a_full_disk_is_said_plainly(heath: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened = Path.open

    def full(self: Path, mode: str = "r", *rest: Any, **more: Any) -> Any:
        if mode == "xb":
            raise OSError(28, "No space left on device", str(self))
        return opened(self, mode, *rest, **more)

    monkeypatch.setattr(Path, "open", full)
    ended = run("plan", heath)
    assert ended.exit_code == 2
    assert "No space left on device" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_a_stop_is_quiet(heath: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(planning, "make", stopped)
    ended = run("plan", heath)
    assert ended.exit_code == 130
    assert ended.output == ""


def test_a_bug_is_not_hidden(heath: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(planning, "make", broken)
    ended = run("plan", heath)
    assert ended.exit_code == 4
    assert "ZeroDivisionError" in ended.stderr


def test_names_cannot_steer_the_terminal(tmp_path: Path) -> None:
    text = EVERY.replace("\x1b", "").replace("\x07", "") + "[bold red]"
    site = write_site(
        tmp_path / "site",
        site={"name": text, "shot": [{**SIDE_TRACK, "name": text}]},
        features=[place("stone", east_m=30.0, north_m=5.0, name="\x1b[31mred\x1b[0m")],
    )
    for ended in (answered(site), run("survey", site)):
        assert ended.exit_code == 0
        assert "\x1b" not in ended.output
        assert "\u202e" not in ended.output
        assert "[bold red]" in " ".join(ended.stdout.split())


def test_survey_says_what_is_there_and_what_is_missing(tmp_path: Path) -> None:
    site = write_site(
        tmp_path / "site",
        site={"weather": None, "survey": {"looked_for": ["trees"]}},
        features=[tree("oak", east_m=50.0, north_m=0.0, height_m=9.0)],
    )
    ended = run("survey", site)
    assert ended.exit_code == 0
    assert re.search(r"^trees +1, 9\.0 m high$", ended.stdout, re.MULTILINE)
    missing = " ".join(ended.stdout.partition("Missing\n")[2].split())
    assert "nobody looked for buildings, wires, people, wildlife" in missing
    for word in ("no wind", "no visibility", "no path, car park or beach"):
        assert word in missing
    assert json.loads(run("survey", site, "--json").stdout)["site"] == "Test heath"


def test_survey_draws_and_leaves_what_is_not_its_own(tmp_path: Path) -> None:
    site = write_site(tmp_path / "site")
    ended = run("survey", site)
    assert ended.exit_code == 0
    assert "wrote survey.png" in ended.stderr
    out = site / "out"
    assert (out / "survey.png").read_bytes().startswith(b"\x89PNG")
    assert (out / ".written-by-shotplan-survey.json").exists()
    assert run("light", site).exit_code == 0
    assert {"survey.png", "light.png"} <= {p.name for p in out.iterdir()}
    (out / "survey.png").write_bytes(b"my own")
    assert run("survey", site).exit_code == 2
    assert (out / "survey.png").read_bytes() == b"my own"
    assert run("survey", site, "--force").exit_code == 0


def test_demo_copies_plans_and_never_overwrites(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it gives to be planned is the bundled site, and the session has a plan of that."""
    asked: list[Outing] = []
    planned = plan_of("hvinhylde")

    def known(outing: Outing, *_: object, **asked_for: object) -> Plan:
        asked.append(outing)
        assert not any(asked_for.values())
        assert outing.inputs == outing_of("hvinhylde").inputs
        return planned

    monkeypatch.setattr(planning, "make", known)
    place_ = tmp_path / "demo"
    first = run("demo", place_)
    assert first.exit_code in {0, 1, 3}
    said: dict[str, Any] = json.loads((place_ / "out" / "report.json").read_text("utf-8"))
    assert first.stdout.splitlines()[0].split() == [said["site"], said["verdict"]]
    assert run("demo", place_).exit_code == first.exit_code
    assert len(asked) == 2
    (place_ / "site.toml").write_text("mine")
    ended = run("demo", place_)
    assert ended.exit_code == 2
    assert (place_ / "site.toml").read_text() == "mine"


def test_demo_knows_every_bundled_site(tmp_path: Path) -> None:
    ended = run("demo", tmp_path / "x", "--site", "no such")
    assert ended.exit_code == 2
    assert all(name in ended.stderr for name in bundled_sites())
    assert not (tmp_path / "x").exists()


def test_demo_lists_the_bundled_sites_and_does_nothing_else(tmp_path: Path) -> None:
    ended = run("demo", tmp_path / "x", "--list")
    assert ended.exit_code == 0
    listed = [line.partition(": ") for line in ended.stdout.splitlines()]
    assert [name for name, _, _ in listed] == list(bundled_sites())
    assert all(about.endswith(".") for _, _, about in listed)
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize("command", ["rules", "aircraft"])
def test_lists_and_prints(command: str) -> None:
    files = pack_files() if command == "rules" else aircraft_files()
    listed = run(command)
    assert listed.exit_code == 0
    for name in files:
        assert name in listed.stdout
        printed = run(command, name)
        assert printed.exit_code == 0
        assert name in printed.stdout
        assert len(json.loads(run(command, name, "--json").stdout)) == 1
    assert run(command, "no-such").exit_code == 2


def test_an_aircraft_prints_as_a_file_to_start_from() -> None:
    for name, path in aircraft_files().items():
        assert run("aircraft", name).stdout == path.read_text(encoding="utf-8")


def test_lines_fit_80_columns_and_carry_no_blanks_when_piped(blocked: Path, tmp_path: Path) -> None:
    text = answered(blocked, "--out", tmp_path / "o", "--explain").stdout
    assert max(len(line) for line in text.splitlines()) <= 80
    assert all(line == line.rstrip() for line in text.splitlines())
    assert "\x1b" not in text


def test_on_a_terminal_the_words_stay_beside_the_colours(blocked: Path, tmp_path: Path) -> None:
    """A real terminal: colours come, the verdicts are still spelt out."""
    ours, theirs = pty.openpty()
    code = f"import sys; sys.argv = ['shotplan', 'plan', {str(blocked)!r}, '--out', "
    code += f"{str(tmp_path / 'o')!r}, '--only', 'none', '--no-mend']; "
    code += "from shotplan.cli import main; main()"
    environment = {**os.environ, "TERM": "xterm-256color", "COLUMNS": "80"}
    environment.pop("NO_COLOR", None)
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=theirs, stderr=subprocess.PIPE, env=environment
    ) as child:
        os.close(theirs)
        seen = b""
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                break
            if not piece:
                break
            seen += piece
        assert child.wait() == 1
    os.close(ours)
    assert b"\x1b[" in seen
    assert b"no-go" in seen


def test_whoever_stops_reading_gets_no_traceback() -> None:
    code = "import sys; sys.argv = ['shotplan', 'rules', 'eu-open-a1']; "
    code += "from shotplan.cli import main; main()"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.close()
        assert b"Traceback" not in child.stderr.read()


def test_help_names_every_command() -> None:
    text = run("--help").stdout
    for name in ("demo", "survey", "plan", "rules", "aircraft"):
        assert re.search(rf"^  {name} ", text, re.MULTILINE)
    assert "3 unknown" in text
