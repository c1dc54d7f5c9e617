"""`shotplan styles` as a person runs it: once with the real search, else with a made-up table."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from shotplan.advice import which_style
from shotplan.advice.style_table import StyleTable
from shotplan.advice.wanted import Wanted
from shotplan.cli import app
from shotplan.model.verdict import Verdict
from shotplan.outing import read
from tests.output.made_table import made_table
from tests.worlds import straight, write_site

WRITTEN = "site.recommended.toml"
FEW = ("--set", "styles=follow-behind, side-track", "--set", "sides=left", "--set", "most=4",
       "--set", "rides=3", "--set", "ladder_steps=1")  # fmt: skip


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(w) for w in words])


def names(folder: Path) -> set[str]:
    return {p.name for p in folder.iterdir() if not p.name.startswith(".")}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> StyleTable:
    return made_table(tmp_path_factory.mktemp("made") / "site")


@pytest.fixture
def heath(tmp_path: Path) -> Path:
    return write_site(tmp_path / "heath", ride=straight(0.0, 100.0))


@pytest.fixture
def searched(made: StyleTable, monkeypatch: pytest.MonkeyPatch) -> list[Wanted]:
    """The search answers with the made-up table; what was wanted of it is kept."""
    asked: list[Wanted] = []

    def answer(outing: Any, wanted: Wanted, progress: Any) -> StyleTable:
        asked.append(wanted)
        progress("a style")
        return made

    monkeypatch.setattr(which_style, "which_style", answer)
    return asked


def test_the_real_search_recommends_draws_and_writes(heath: Path) -> None:
    ended = run("styles", heath, "--write", "--json", *FEW)
    said = json.loads(ended.stdout)
    assert ended.exit_code == {"go": 0, "caution": 0, "no-go": 1, "unknown": 3}[said["verdict"]]
    assert len(said["candidates"]) == 4
    assert said["route"]
    assert names(heath / "out") == {"styles.png"}
    (heath / "site.toml").write_bytes((heath / WRITTEN).read_bytes())
    assert [s.style.name for s in read(heath).shots] == [
        leg["shot"]["style"] for leg in said["route"]
    ]


@pytest.mark.parametrize(("word", "code"), [*zip(Verdict, (0, 0, 3, 1), strict=True)])
def test_the_exit_code_is_the_word_of_the_route(
    heath: Path, made: StyleTable, monkeypatch: pytest.MonkeyPatch, word: Verdict, code: int
) -> None:
    monkeypatch.setattr(which_style, "which_style", lambda *_: replace(made, word=word))
    assert run("styles", heath).exit_code == code


def test_the_recommended_route_comes_first_at_80_columns(
    heath: Path, searched: list[Wanted], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    ended = run("styles", heath)
    lines = ended.stdout.splitlines()
    assert lines[:3] == ["Test heath: caution", "", "Recommended"]
    assert max(len(line) for line in lines) <= 80
    assert "\x1b" not in ended.stdout
    assert "wrote styles.png" in ended.stderr
    assert searched == [Wanted()]
    assert not (heath / WRITTEN).exists()


def test_all_tells_every_candidate(heath: Path, searched: list[Wanted], made: StyleTable) -> None:
    text = run("styles", heath, "--all").stdout
    assert all(f"\n{c.label}\n" in text for c in made.candidates)


def test_explain_tells_settings_and_what_is_asked_when(heath: Path, searched: list[Wanted]) -> None:
    text = " ".join(run("styles", heath, "--explain", "--set", "stretch_m=20").stdout.split())
    assert "stretch_m = 20 m: length of a stretch" in text
    proof = text.index("Asked only of what is recommended")
    assert text.index("Asked of every candidate") < text.index("- clearance (") < proof
    assert text.index("- wind (") > proof


def test_settings_reach_the_search(heath: Path, searched: list[Wanted]) -> None:
    run("styles", heath, "--set", "side_m=8, 16", "--set", "most = 30")
    assert (searched[0].side_m, searched[0].most) == ((8.0, 16.0), 30)


def test_wrong_settings_are_all_said_at_once(heath: Path) -> None:
    ended = run("styles", heath, "--set", "side_n=8", "--set", "most=-3", "--set", "rides=many")
    assert ended.exit_code == 2
    assert "Traceback" not in ended.stderr
    assert "side_m" in ended.stderr
    assert "many" in ended.stderr
    ended = run("styles", heath, "--set", "side_m", "--set", "most=3", "--set", "most=4")
    assert ended.stderr.startswith("2 problems found:")
    assert not (heath / "out").exists()


def test_foreign_and_changed_files_are_refused_before_the_search(
    heath: Path, searched: list[Wanted]
) -> None:
    (heath / WRITTEN).write_text("mine")
    ended = run("styles", heath, "--write")
    assert ended.exit_code == 2
    assert "was not written by shotplan" in ended.stderr
    assert not searched
    assert run("styles", heath, "--write", "--force").exit_code == 0
    assert run("styles", heath, "--write").exit_code == 0
    with (heath / WRITTEN).open("a") as file:
        file.write("# my note\n")
    ended = run("styles", heath, "--write")
    assert "was changed since shotplan wrote it" in ended.stderr
    assert (heath / WRITTEN).read_text().endswith("# my note\n")
    assert (heath / "site.toml").read_text() != (heath / WRITTEN).read_text()


def test_results_may_go_into_the_site_folder_itself(heath: Path, searched: list[Wanted]) -> None:
    for _ in range(2):
        assert run("styles", heath, "--write", "--out", heath).exit_code == 0
        assert {"styles.png", WRITTEN} <= names(heath)


def test_nothing_that_passes_writes_no_site_file(
    heath: Path, made: StyleTable, monkeypatch: pytest.MonkeyPatch
) -> None:
    none = replace(made, legs=(), gaps=((0.0, 400.0),), word=Verdict.NO_GO)
    monkeypatch.setattr(which_style, "which_style", lambda *_: none)
    ended = run("styles", heath, "--write")
    assert ended.exit_code == 1
    assert "there is no shot to write" in ended.stderr
    assert "Nothing works as things are" in ended.stdout
    assert not (heath / WRITTEN).exists()


def test_a_stop_during_the_search_leaves_nothing(
    heath: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: Any) -> StyleTable:
        raise KeyboardInterrupt

    monkeypatch.setattr(which_style, "which_style", stopped)
    assert run("styles", heath, "--write").exit_code == 130
    assert names(heath) == {"site.toml", "ground.geojson"}


@pytest.mark.parametrize("half", ["styles.png", WRITTEN])
def test_a_stop_while_writing_leaves_no_half_file(
    heath: Path, searched: list[Wanted], monkeypatch: pytest.MonkeyPatch, half: str
) -> None:
    assert run("styles", heath, "--write").exit_code == 0
    folder = heath if half == WRITTEN else heath / "out"
    before, there = (folder / half).read_bytes(), names(folder)
    opened = Path.open

    def stopped(self: Path, mode: str = "r", *rest: Any, **more: Any) -> Any:
        if mode == "xb" and self.name.startswith(half):
            with opened(self, mode) as file:
                file.write(b"half")
            raise KeyboardInterrupt
        return opened(self, mode, *rest, **more)

    monkeypatch.setattr(Path, "open", stopped)
    assert run("styles", heath, "--write").exit_code == 130
    assert (folder / half).read_bytes() == before
    assert names(folder) == there
    monkeypatch.setattr(Path, "open", opened)
    assert run("styles", heath, "--write").exit_code == 0
