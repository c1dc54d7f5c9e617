"""How commands end: 1 only ever means no-go, and no name ends a command."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shotplan import cli
from shotplan.cli import guard, show
from shotplan.errors import WorkerLostError
from shotplan.output import screen
from shotplan.output.words import plain
from tests.worlds import SIDE_TRACK, write_site

NAME = "Bø 道 \U0001f6b5 \u202eline"


def test_a_fault_of_its_own_is_4_and_says_where_its_report_lies(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object, **__: object) -> object:
        raise IndexError("index 106 is out of bounds")

    monkeypatch.setattr(screen, "answered", fails)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    folder = write_site(tmp_path / "s", site={"shot": [{**SIDE_TRACK, "to_m": 20.0}]})
    ran = CliRunner().invoke(cli.app, ["plan", str(folder), "--only", "none", "--no-mend"])
    assert ran.exit_code == 4
    (line,) = ran.stderr.splitlines()
    assert "IndexError" in line
    report = Path(line.rsplit(" ", 1)[1])
    assert report.parent == tmp_path
    assert "index 106 is out of bounds" in report.read_text(encoding="utf-8")
    assert "Traceback" in report.read_text(encoding="utf-8")


def test_where_no_report_can_be_written_it_is_still_4(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object, **__: object) -> object:
        raise RecursionError("too deep")

    monkeypatch.setattr("shotplan.outing.read", fails)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    ran = CliRunner().invoke(cli.app, ["survey", str(tmp_path)])
    assert ran.exit_code == 4
    assert "too deep" in ran.stderr


def test_a_lost_worker_is_4_in_its_own_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object, **__: object) -> object:
        raise WorkerLostError("a worker process was ended from outside")

    monkeypatch.setattr("shotplan.outing.read", fails)
    ran = CliRunner().invoke(cli.app, ["survey", str(tmp_path)])
    assert (ran.exit_code, ran.stderr) == (4, "a worker process was ended from outside\n")


def test_wrong_usage_stays_2_and_help_0() -> None:
    assert CliRunner().invoke(cli.app, ["plan", "--nonsense", "."]).exit_code == 2
    assert CliRunner().invoke(cli.app, ["plan", "--help"]).exit_code == 0


def run(folder: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    plain = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG", "PYTHONUTF8"))}
    return subprocess.run(
        [sys.executable, "-c", "from shotplan.cli import main; main()", *words, str(folder)],
        capture_output=True, env={**plain, **environment}, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    "environment",
    [{"PYTHONIOENCODING": "ascii"}, {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}],
)
def test_a_name_the_terminal_cannot_print_ends_nothing(
    tmp_path: Path, environment: dict[str, str]
) -> None:
    shot = {**SIDE_TRACK, "name": NAME, "side": f"toward:{NAME}"}
    folder = write_site(tmp_path / "s", site={"shot": [shot]})
    file = folder / "site.toml"  # TOML takes no halves of a pair, as JSON has them
    whole = file.read_text(encoding="utf-8").replace(r"\ud83d\udeb5", "\U0001f6b5")
    file.write_text(whole, encoding="utf-8")
    wrong = run(folder, "survey", **environment)
    assert wrong.returncode == 2, wrong.stderr
    assert b"Traceback" not in wrong.stderr
    assert b"there is launch" in wrong.stderr
    printed = run(Path("ca-basic"), "rules", **environment)
    assert printed.returncode == 0, printed.stderr
    assert printed.stdout.isascii()
    assert rb"\u" in printed.stdout


def test_json_stays_json_where_the_terminal_has_few_letters(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bytes_out = io.BytesIO()
    terminal = io.TextIOWrapper(bytes_out, encoding="ascii", write_through=True)
    monkeypatch.setattr(sys, "stdout", terminal)
    guard.printing_anything()
    show.write_json({"name": NAME})
    assert json.loads(bytes_out.getvalue().decode("ascii")) == {"name": plain(NAME)}
    terminal.write("a name no UTF-8 has: \udcff\n")
    assert bytes_out.getvalue().endswith(rb"has: \udcff" + b"\n")
    with pytest.raises(UnicodeEncodeError):
        NAME.encode("ascii")
