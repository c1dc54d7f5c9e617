"""The library's face: the example of its docstring runs, and what a person sees of a plan."""

from __future__ import annotations

import json
import re
import shutil
import textwrap
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import shotplan as sp
from tests import worlds
from tests.test_imports import HEAVY, loaded_by

ROOT = Path(__file__).resolve().parent.parent
HOSTILE = "<script>alert(1)</script>\x1b[31m\n"
NAMES = {
    "BadInput", "Outing", "Plan", "Verdict", "light", "make", "mend", "read", "spots", "styles",
    "write",
}  # fmt: skip


def example() -> str:
    """The code of the package's docstring, one per line."""
    (found,) = re.findall(r"^ {4}import shotplan as sp\n(?:(?: {4}.*)?\n)+", sp.__doc__ or "", re.M)
    return textwrap.dedent(str(found))


def home_hill(folder: Path) -> Path:
    """The bundled flats under the names of the example, its two first shots only."""
    shutil.copytree(ROOT / "sites" / "dunnaby", folder)
    told = folder / "site.toml"
    text = "[[shot]]".join(told.read_text("utf-8").split("[[shot]]")[:3])
    text = text.replace("beside, on the shed's side", "beside me")
    told.write_text(f"{text}\n[disturbance]\nrides = 2\n", "utf-8")
    return folder


@cache
def small() -> sp.Plan:
    """Two shots over a plain, one of them with a hostile name."""
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        shots = [{**worlds.SIDE_TRACK, "name": n} for n in ("beside me", HOSTILE)]
        oak = worlds.tree("oak", east_m=-12.0, north_m=0.0)
        return sp.make(sp.read(worlds.write_site(Path(name), features=[oak], site={"shot": shots})))


def test_the_example_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    home_hill(tmp_path / "home-hill")
    monkeypatch.chdir(tmp_path)
    code = example()
    assert "rides=300, progress=print" in code
    said: dict[str, object] = {}
    exec(code.replace("rides=300", "rides=3"), said)
    plan, nearer = said["plan"], said["nearer"]
    assert isinstance(plan, sp.Plan)
    assert isinstance(nearer, sp.Plan)
    assert [s.name for s in plan] == ["beside me", "beside, on the walkers' side"]
    assert (plan["beside me"].rides, nearer["beside me"].rides) == (3, 2)
    out = capsys.readouterr().out.splitlines()
    assert out == [*(s.name for s in plan), *str(plan).splitlines()]
    gap = plan["beside me"].finding("clearance").margin
    assert isinstance(gap, float)
    track = plan["beside me"].track
    assert track.xyz_m[0].shape == (track.ride.t_s.size, 3)
    assert np.abs(nearer["beside me"].track.xyz_m[0] - track.xyz_m[0]).max() > 3.0
    assert {p.name for p in Path("out").iterdir() if p.name[0] != "."} == {
        "map.html", "report.json",
    }  # fmt: skip
    report = json.loads(Path("out/report.json").read_text("utf-8"))
    assert report["tool"] == f"shotplan {sp.__version__}, plan {plan.outing.fingerprint}"


def test_names_are_fetched_when_they_are_asked_for() -> None:
    assert set(sp.__all__) == NAMES
    assert set(dir(sp)) >= NAMES
    for name in NAMES:
        assert callable(getattr(sp, name)), name
        assert f"`{name}" in (sp.__doc__ or ""), name
    with pytest.raises(AttributeError, match="no attribute 'fly'"):
        sp.fly  # noqa: B018
    assert not loaded_by("import shotplan; dir(shotplan)") & (HEAVY | {"numpy"})


def test_a_room_of_the_same_name_does_not_hide_a_function() -> None:
    from shotplan import styles
    from shotplan.advice.which_style import which_style
    from shotplan.styles import STYLES

    assert STYLES
    assert styles is sp.styles is which_style


def test_a_folder_is_read_by_text_or_path(tmp_path: Path) -> None:
    folder = worlds.write_site(tmp_path)
    assert sp.read(str(folder)).inputs == sp.read(folder).inputs


def test_printed_and_shown() -> None:
    plan = small()
    first, *shots = str(plan).splitlines()
    assert first == f"Test heath: {plan.verdict}"
    assert len(shots) == 2
    assert shots[0].startswith(f"  beside me: {plan['beside me'].verdict}")
    binding = plan["beside me"].binding
    assert binding is not None
    assert f"{binding.check}: {binding.reason}"[:60] in shots[0]
    assert "\x1b" not in str(plan)
    for one in (plan, plan.outing, *plan):
        assert repr(one).isprintable()
        assert len(repr(one)) < 300
    assert repr(plan["beside me"]).startswith('<shot "beside me": ')


def test_the_table_of_a_notebook_runs_nothing() -> None:
    table = small()._repr_html_()
    assert table.count("<tr>") == 3
    assert "<script" not in table
    assert "&lt;script&gt;" in table
    assert not sp.Plan._repr_html_.__globals__.keys() & {"folium", "matplotlib"}


def test_a_plan_does_not_load_what_writes_it() -> None:
    loaded = loaded_by("import shotplan; shotplan.make, shotplan.Plan, shotplan.read")
    assert not loaded & {"folium", "matplotlib", "typst", "typer", "rich"}


def test_an_unknown_name_tells_those_there_are() -> None:
    with pytest.raises(KeyError, match='"beside"; there are "beside me" and'):
        small()["beside"]
    with pytest.raises(KeyError, match="clearing; there are clearance, ground"):
        small()["beside me"].finding("clearing")


def test_verdicts_are_their_words() -> None:
    assert [str(v) for v in sp.Verdict] == ["go", "caution", "unknown", "no-go"]
    assert f"{sp.Verdict.NO_GO}" == "no-go"
    assert sp.Verdict.GO < sp.Verdict.NO_GO


def test_with_shot_changes_one_shot_and_says_so() -> None:
    old = small().outing
    new = old.with_shot("beside me", distance_ft=20.0, takes=2, to_m=90)
    shot, other = new.shots
    assert old.shots[0].takes == 1
    assert other == old.shots[1]
    assert (shot.takes, shot.to_m, shot.name) == (2, 90.0, "beside me")
    assert shot.style.words() == "side-track, left, 6.096 m out, 6 m above the rider"
    assert new.repairs == (
        *old.repairs,
        "beside me: distance_ft, takes, to_m changed after reading",
    )
    assert old.with_shot("beside me") == old
    behind = old.with_shot("beside me", style="lead", distance_m=9.0, height_m=4.0)
    assert behind.shots[0].style.name == "lead"


@pytest.mark.parametrize(
    ("name", "keys", "told"),
    [
        ("beside", {}, 'there is no such shot; there are "beside me"'),
        ("beside me", {"distanc_m": 8.0}, '"distanc_m" is not a key known here; did you mean'),
        ("beside me", {"radius_m": 8.0}, '"radius_m" is not a key known here'),
        ("beside me", {"distance_m": -8.0}, "distance_m: got -8.0; wanted a number at least 0.1"),
        ("beside me", {"distance_m": "8"}, 'distance_m: got "8"; wanted a number at least 0.1'),
        ("beside me", {"side": "up"}, "side is 'up'; write left or right"),
        ("beside me", {"side": "toward:rock"}, 'names the place "rock"; there is launch'),
        ("beside me", {"style": "lead", "side": "left"}, '"side" is not a key known here'),
        ("beside me", {"style": "leed"}, 'style is "leed"; did you mean "lead"'),
        ("beside me", {"from_m": 300.0, "to_m": None}, "from_m is 300; the ride is 199.8 m long"),
        ("beside me", {"from_m": 90.0, "to_m": 80.0}, "from_m 90 is not before to_m 80"),
        ("beside me", {"takes": 0}, "takes: got 0; wanted a whole number at least 1"),
        ("beside me", {"stands": {"Cy": "launch"}}, 'stands names "Cy", not of the crew'),
    ],
)
def test_with_shot_says_what_is_allowed(name: str, keys: dict[str, object], told: str) -> None:
    with pytest.raises(sp.BadInput) as refused:
        small().outing.with_shot(name, **keys)
    assert told in str(refused.value)


def test_a_shot_needs_a_name_of_its_own() -> None:
    with pytest.raises(sp.BadInput, match="another shot has that name"):
        small().outing.with_shot("beside me", name=HOSTILE)


def test_at_least_one_ride_is_flown() -> None:
    with pytest.raises(ValueError, match="rides is 0; wanted at least 1"):
        sp.make(small().outing, rides=0)


def test_only_what_there_is_can_be_written(tmp_path: Path, few_pictures: None) -> None:
    with pytest.raises(sp.BadInput, match=r'only: no output is named "map.htm"; there are "report'):
        sp.write(small(), tmp_path / "out", only=["report.json", "map.htm"])
    assert not (tmp_path / "out").exists()
    assert sp.write(small(), str(tmp_path / "out"), ["report.json"]) == ("report.json",)
