"""A new site file: only the shots change, it is read again, and what is hostile stays text."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

from shotplan.advice.style_table import StyleTable
from shotplan.errors import BadInput
from shotplan.model.flight import Style
from shotplan.outing import read
from shotplan.output.answers import site_file
from shotplan.styles import STYLES
from tests.output.hostile import EVERY
from tests.output.made_table import made_table
from tests.stories.test_every_style import KEYS

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("made") / "site"


@pytest.fixture(scope="module")
def table(site: Path) -> StyleTable:
    return made_table(site)


def old(site: Path) -> str:
    return (site / "site.toml").read_text("utf-8")


def test_copied_over_site_toml_it_is_read_with_the_recommended_shots(
    site: Path, table: StyleTable, tmp_path: Path
) -> None:
    made = site_file.text(table, old(site))
    (tmp_path / "ground.geojson").write_bytes((site / "ground.geojson").read_bytes())
    (tmp_path / "site.toml").write_text(made, "utf-8")
    outing = read(tmp_path)
    wanted = [leg.plan.scene.shot for leg in table.legs]
    assert [s.style for s in outing.shots] == [s.style for s in wanted]
    length_m = float(outing.ride.along_m[0, -1])
    assert [(s.name, s.from_m, s.to_m) for s in outing.shots] == [
        (s.name, s.from_m, min(s.to_m, length_m)) for s in wanted
    ]


def test_the_easier_versions_stand_above_as_comments_that_are_shots(
    site: Path, table: StyleTable
) -> None:
    made = site_file.text(table, old(site))
    shown = [line for line in made.splitlines() if line.startswith("# ")]
    blocks = "\n".join(shown).split("# [[shot]]\n")[1:]
    assert len(blocks) == sum(len(leg.easier) for leg in table.legs)
    keys = [
        tomllib.loads("\n".join(line[2:] for line in block.splitlines() if " = " in line))
        for block in blocks
    ]
    assert keys[0]["style"] == "side-track"
    assert (keys[0]["distance_m"], keys[0]["height_over"]) == (30.0, "launch")
    assert (keys[1]["style"], keys[1]["distance_m"]) == ("follow-behind", 20.0)
    assert made.index("# [[shot]]") < made.index("\n[[shot]]")


def test_all_else_stays_with_its_comments(table: StyleTable) -> None:
    text = (ROOT / "sites" / "hvinhylde" / "site.toml").read_text("utf-8")
    after = "\n# how rides differ\n[disturbance]\nrides = 20 # few\n\n# [[shot]] an old one\n"
    made = site_file.text(table, text + after)
    head = text[: text.index("[[shot]]")]
    assert head in made
    assert made.endswith(after)
    said = tomllib.loads(made)
    assert {k: v for k, v in said.items() if k != "shot"} == {
        k: v for k, v in tomllib.loads(text + after).items() if k != "shot"
    }
    assert len(said["shot"]) == len(table.legs)
    assert "round the cairn" not in made


@pytest.mark.parametrize(
    "text",
    [
        'name = """\n[[shot]]\nstill"""\n[[shot]]\nname = "gone"\n[day]\nreset_s = 1\n',
        'a = [\n[1, 2],\n[3]\n]\n[[ "shot" ]] # gone\n[shot.stands]\nA = "gone"\n[b]\nc = 1',
        '[[shot]]\na = """gone\n# not\n"""\n# kept\n[b]\n[[shot]]\nname = "gone"\n# kept',
        "format = 1\n\n[b]\nc = 1",
        'format = 1\r\n[[shot]]\r\nname = "gone"\r\n\r\n# kept\r\n[b]\r\nc = 1\r\n',
    ],
)  # fmt: skip
def test_shots_are_told_from_what_looks_like_them(table: StyleTable, text: str) -> None:
    made = site_file.text(table, text)
    before, after = tomllib.loads(text), tomllib.loads(made)
    assert [s["style"] for s in after.pop("shot")] == [
        leg.plan.scene.shot.style.name for leg in table.legs
    ]
    before.pop("shot", None)
    assert after == before
    assert "gone" not in made
    assert made.count("# kept") == text.count("# kept")


def test_shots_in_one_list_are_refused(table: StyleTable) -> None:
    with pytest.raises(BadInput, match="a \\[\\[shot\\]\\] of its own"):
        site_file.text(table, 'format = 1\nshot = [{ name = "a" }]\n')


def test_nothing_that_passes_is_no_file(site: Path, table: StyleTable) -> None:
    with pytest.raises(BadInput, match="no shot to write"):
        site_file.text(replace(table, legs=()), old(site))


def test_what_happens_when_the_link_is_lost_is_as_judged(site: Path, table: StyleTable) -> None:
    lost = 'link_lost = "land"\n' + old(site)
    assert all(s["link_lost"] == "home" for s in tomllib.loads(site_file.text(table, lost))["shot"])
    assert "link_lost" not in site_file.text(table, old(site))


def test_hostile_names_stay_text(site: Path, table: StyleTable) -> None:
    leg = table.legs[0]
    shot = replace(leg.plan.scene.shot, name=EVERY)
    plan = replace(leg.plan, scene=replace(leg.plan.scene, shot=shot))
    easier = tuple(e._replace(label=f"{EVERY}\n[[shot]]") for e in leg.easier)
    hostile = replace(table, legs=(leg._replace(plan=plan, easier=easier),))
    made = site_file.text(hostile, old(site))
    (said,) = tomllib.loads(made)["shot"]
    assert said["name"] == EVERY
    assert not set("\x1b\u202e\u2028") & set(made)


def test_every_style_is_written_with_keys_it_has() -> None:
    for style in STYLES:
        made = cast(Style, cast(Any, style)(**KEYS[style.name]))
        said = made.keys()
        assert said.pop("style") == style.name
        assert cast(Any, style)(**said) == made
