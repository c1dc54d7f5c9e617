"""What README.md says of a site folder is what is read: its smallest site, its roles, its keys."""

from __future__ import annotations

import json
import re
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any

import pytest

from shotplan.cli import app
from shotplan.outing import read
from shotplan.site.roles import ANY, ROLES, Common
from shotplan.site.tables import ShotTable
from shotplan.styles import STYLES
from tests.stories.test_bad_input import run

README = (Path(__file__).resolve().parents[2] / "README.md").read_text("utf-8")


def block(language: str) -> str:
    """The only block of README.md in a language."""
    (found,) = re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    return str(found)


def rows(head: str) -> dict[str, list[str]]:
    """The table whose first column is headed `head`: first cell (a key) -> the other cells."""
    table = README.split(f"\n| {head} |")[1].split("\n\n")[0].splitlines()[2:]
    cells = [[c.strip() for c in line.strip("| ").split(" | ")] for line in table]
    return {first.strip("`"): rest for first, *rest in cells}


def keys(schema: type[Any], without: type[Any] | None = None) -> dict[str, bool]:
    """Key -> whether it may be left out, but for those of `without`."""
    known = {f.name for f in fields(without)} if without else set()
    return {
        f.name.rstrip("_"): f.default is not MISSING or f.default_factory is not MISSING
        for f in fields(schema)
        if f.name not in known
    }


@pytest.fixture
def smallest(tmp_path: Path) -> Path:
    """The folder a reader of README.md types in."""
    (tmp_path / "site.toml").write_text(block("toml"), "utf-8")
    (tmp_path / "ground.geojson").write_text(block("json"), "utf-8")
    return tmp_path


def test_the_smallest_site_is_planned(smallest: Path) -> None:
    ended = run("plan", str(smallest))
    assert ended.code == 3, ended.err  # README: the answer is unknown, the weather is missing
    (shot,) = json.loads((smallest / "out" / "report.json").read_text("utf-8"))["shots"]
    verdicts = {f["check"]: f["verdict"] for f in shot["findings"]}
    assert verdicts["wind"] == "unknown"
    assert verdicts["clearance"] == "go"


def test_the_smallest_site_leaves_nothing_to_mend(smallest: Path) -> None:
    outing = read(smallest)
    assert all("country" in repair for repair in outing.repairs)
    assert len(outing.shots) == 1


def test_every_role_is_listed_as_it_is_read() -> None:
    listed = rows("role")
    assert set(listed) == set(ROLES)
    for role, (drawn_as, says) in listed.items():
        schema, kinds = ROLES[role]
        assert drawn_as == ("anything" if kinds == ANY else kinds[0]), role
        for key, optional in keys(schema, without=Common).items():
            assert (f"*`{key}`*" if optional else f"`{key}`") in says, (role, key)
    assert all(f"`{key}`" in README for key in keys(Common))


def test_every_style_is_listed_with_its_keys() -> None:
    listed = rows("style")
    assert set(listed) == {style.name for style in STYLES}
    for style in STYLES:
        said = listed[style.name][-1].split(", ")
        assert said == [f"*`{k}`*" if left_out else f"`{k}`" for k, left_out in keys(style).items()]
    assert all(f"`{key}`" in README for key in keys(ShotTable))


def test_every_command_is_listed() -> None:
    named = {c.name or str(getattr(c.callback, "__name__", "")) for c in app.registered_commands}
    assert {row.split()[1] for row in rows("command")} == named
