"""To add something is one file, and for code one line more: a newcomer of every kind is put into a
copy of the package, and the tests over tuples and folders are run there as they stand."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
STYLE = '''"""Tail: behind the rider and higher."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from shotplan.files.tables import Positive
from shotplan.kernels.motion import setpoints
from shotplan.model.flight import Stage, Style, Wish
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import Setting


@dataclass(frozen=True, kw_only=True)
class Tail(Style):
    """`height_m` above him, to the north of him by half as much."""

    name: ClassVar[str] = "tail"
    flies: ClassVar[str] = "behind the rider and higher"

    height_m: Positive

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points by the rider as the aircraft believes him to be."""
        rider = ride.known_xyz_m
        xy = rider[..., :2] + 0.5 * self.height_m * setpoints.unit(ride.course_rad + np.pi)
        return Wish.on_rider(stage.raised(xy, self.height_m, "rider", rider[..., 2]), rider)

    def words(self) -> str:
        """`tail, 8 m above the rider`."""
        return f"tail, {self.height_m:g} m above the rider"

    def settings(self) -> tuple[Setting, ...]:
        """Its height."""
        return (Setting.height(self.height_m, "rider"),)

    @classmethod
    def candidates(cls, search: Search) -> Iterator[Style]:
        """Every height."""
        return (cls(height_m=height) for height in search.tries.heights_m)
'''
CHECK = '''"""Afield: it does not fly farther from the launch than one walks to fetch it."""

from __future__ import annotations

import numpy as np

from shotplan.model.verdict import Verdict
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Words
from shotplan.scene.scene import Scene

FAR_M = 900.0


def margins(scene: Scene) -> tuple[Margin, ...]:
    """One margin: the level distance from the launch; NaN where no launch is drawn."""
    launch = scene.site.launch
    place = np.full(2, np.nan) if launch is None else launch.xyz_m[:2]
    away = np.hypot(*(scene.track.xyz_m[..., :2] - place).transpose(2, 0, 1))

    def why(i: int, verdict: Verdict) -> Words:
        return Words(f"it is {away[0, i]:.0f} m from the launch", f"stay within {FAR_M:g} m")

    n = away.shape[1]
    return (
        Margin(
            margin=FAR_M - away,
            value=away[0],
            limit=np.full(n, FAR_M),
            thing=np.full(n, "", dtype=object),
            why=why,
        ),
    )


CHECK = Check(
    id="afield",
    family="picture",
    group="place",
    question="how far it flies from the launch",
    unit="m",
    shown=AGAINST,
    told=Told("it flies too far to fetch it", strays=""),
    nature=Nature(hits="nothing", placed=True, by_style=True, searched="never"),
    wind="none",
    binds="at-most",
    margins=margins,
    rides="first",
    pointwise=True,
)
'''
OUTPUT = '''"""A word to copy."""

from __future__ import annotations

from shotplan.judging.judged import Plan


def output(plan: Plan) -> dict[str, bytes]:
    """The verdict alone."""
    return {"verdict.txt": plan.verdict.word.encode("ascii")}
'''


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what is tested, with a newcomer of each kind in it."""
    copy = tmp_path_factory.mktemp("house") / "copy"
    kept = shutil.ignore_patterns("__pycache__", "out", "benchmarks", ".*_cache")
    for name in ("shotplan", "tests", "sites"):
        shutil.copytree(ROOT / name, copy / name, ignore=kept)
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md", ".ci"):
        take = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
        take(ROOT / name, copy / name)
    package = copy / "shotplan"
    packs, classes = package / "rules" / "packs", package / "aircraft" / "classes"
    text = (packs / "ca-basic.toml").read_text("utf-8")
    (packs / "made-up.toml").write_text(text.replace("ca-basic", "made-up"), "utf-8")
    for pack in packs.glob("*.toml"):  # all dated another day
        pack.write_text(pack.read_text("utf-8").replace("2026-11-25", "2027-02-03"), "utf-8")
    text = (classes / "unsensed.toml").read_text("utf-8")
    (classes / "made-up.toml").write_text(text.replace('"unsensed"', '"made-up"'), "utf-8")
    (package / "styles" / "tail.py").write_text(STYLE, "utf-8")
    (package / "checks" / "afield.py").write_text(CHECK, "utf-8")
    (package / "output" / "verdict_word.py").write_text(OUTPUT, "utf-8")
    for room, line in (
        ("styles", "from shotplan.styles.tail import Tail\n\nSTYLES = (Tail, *STYLES)\n"),
        ("checks", "from shotplan.checks import afield\n\nCHECKS = (*CHECKS, afield.CHECK)\n"),
        ("output", "from shotplan.output import verdict_word\n\n"
                   'OUTPUTS = (*OUTPUTS, Output("word", ("verdict.txt",), verdict_word.output))\n'),
    ):  # fmt: skip
        with (package / room / "__init__.py").open("a", encoding="utf-8") as listed:
            listed.write(line)
    return copy


def ended(house: Path, *tests: str) -> str:
    """What pytest says of tests in the copy."""
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:randomly", *tests],
        cwd=house,
        env={**os.environ, "PYTHONPATH": str(house)},
        capture_output=True,
        text=True,
        check=False,
    )
    return "passed" if run.returncode == 0 else run.stdout[-4000:] + run.stderr[-1000:]


def test_a_pack_and_a_class_need_no_edit(house: Path) -> None:
    tests = ("rules", "aircraft", "published/test_rule_packs.py", "stories/test_law_table.py",
             "files/test_bundled.py")  # fmt: skip
    assert ended(house, *(f"tests/{name}" for name in tests)) == "passed"


def test_a_style_a_check_and_an_output_are_taken_in(house: Path) -> None:
    tests = ("test_house.py::test_what_a_file_offers_to_a_tuple_is_in_it",
             "test_house.py::test_every_file_belongs_to_a_room", "checks/test_contract.py",
             "styles/test_styles.py", "output/test_folder.py")  # fmt: skip
    flown = "stories/test_every_style.py::test_every_check_has_an_answer[tail]"
    assert ended(house, *(f"tests/{name}" for name in (*tests, flown))) == "passed"
