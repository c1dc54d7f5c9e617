"""`shotplan plan` with the changes that work: printed, in the report, written."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shotplan.cli import app
from shotplan.output import folder as folders
from shotplan.output.answers import site_file
from tests.worlds import SIDE_TRACK, tree, write_site

run = CliRunner().invoke
MENDED = "site.mended.toml"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tree where the first shot flies; the second is clear of it."""
    oak = tree("oak", east_m=-12.0, north_m=0.0)
    shots = [SIDE_TRACK, {**SIDE_TRACK, "name": "high", "height_m": 25.0}]
    return write_site(tmp_path_factory.mktemp("site"), features=[oak], site={"shot": shots})


def plan(site: Path, *more: str) -> tuple[int, str, str]:
    ended = run(app, ["plan", str(site), "--only", "none", *more])
    return ended.exit_code, ended.stdout, ended.stderr


def test_a_change_is_printed_reported_and_written(site: Path) -> None:
    code, said, aside = plan(site, "--write")
    assert code == 1
    report = json.loads((site / "out" / "report.json").read_text("utf-8"))
    blocked, high = report["shots"]
    first = blocked["changes"][0]
    assert set(first) == {"keys", "verdict", "rides", "seed", "text"}
    assert first["seed"] != 1
    assert high["changes"] == []
    works = first["text"].removesuffix(f": {first['verdict']}")
    assert f"What works, each flown as often: A {works} -> {first['verdict']}" in " ".join(
        said.split()
    )
    assert f"wrote {MENDED} to {site}" in aside
    old, new = (tomllib.loads((site / n).read_text("utf-8")) for n in ("site.toml", MENDED))
    assert new["shot"] == [{**old["shot"][0], **first["keys"]}, old["shot"][1]]
    assert {**new, "shot": 0} == {**old, "shot": 0}
    assert plan(site, "--write")[0] == 1  # its own may be written anew


def test_without_mending_there_is_no_word_of_it(site: Path) -> None:
    _, said, _ = plan(site, "--no-mend")
    report = json.loads((site / "out" / "report.json").read_text("utf-8"))
    assert all("changes" not in shot for shot in report["shots"])
    assert "What works" not in said
    assert "raise it" not in said
    _, told, _ = plan(site, "--no-mend", "--explain")
    assert "not flown" in told
    assert "raise it" in told


def test_the_answer_does_not_wait_for_the_changes(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped while it looks for them: the word is said, its report is whole and is ours."""
    seen = list[str]()

    def stopped(*_: object, **__: object) -> None:
        seen.append((site / "out" / "report.json").read_text("utf-8"))
        raise KeyboardInterrupt

    monkeypatch.setattr("shotplan.advice.mend.mended", stopped)
    code, said, aside = plan(site)
    assert code == 130
    assert '"verdict": "no-go"' in seen[0]
    assert "no-go" in said
    assert "report.json is whole" in aside
    assert (site / "out" / "report.json").read_text("utf-8") == seen[0]
    monkeypatch.undo()
    assert plan(site)[0] == 1


def test_a_file_of_somebody_else_is_left_alone(site: Path) -> None:
    (site / MENDED).write_text("mine = true\n", "utf-8")
    code, _, aside = plan(site, "--write")
    assert code == 2
    assert "was changed since" in aside
    assert (site / MENDED).read_text("utf-8") == "mine = true\n"
    (site / MENDED).unlink()
    assert plan(site, "--write", "--no-mend")[0] == 2


def test_what_is_not_changed_stays_to_the_byte(site: Path) -> None:
    """Comments, line ends and the shots without a change."""
    import shotplan as sp

    made = sp.mend(sp.make(sp.read(site)))
    old = (site / "site.toml").read_text("utf-8")
    head, first, second = old.split("[[shot]]")
    text = f"# mine\r\n{head}[[shot]] # one\n{first.lstrip()}\n# of high\n[[shot]]{second}# end\n"
    said = site_file.mended(made, text)
    assert said.startswith(site_file.MENDED_HEAD)
    assert f"# mine\r\n{head}" in said
    assert said.endswith(f"# of high\n[[shot]]{second}# end\n")
    assert folders.MENDED_MANIFEST not in {folders.MANIFEST, folders.SITE_MANIFEST}
