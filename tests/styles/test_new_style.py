"""A style that somebody adds tomorrow: one file and one word in the tuple, and it is everywhere."""

import importlib.util
import sys
from importlib import import_module
from pathlib import Path
from typing import cast

import pytest

from shotplan import plan as planning
from shotplan.advice.candidates import candidates
from shotplan.advice.wanted import Wanted, searched
from shotplan.advice.which_style import which_style
from shotplan.model.flight import Style
from shotplan.outing import read
from shotplan.output.answers import site_file
from shotplan.output.brief.shots import shot as brief_of
from shotplan.output.card.words import card as card_of
from shotplan.styles import STYLES
from tests import worlds

FILE = '''
"""Quarter: behind the rider and to one side."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar, Literal

from shotplan.files.tables import Positive
from shotplan.kernels.motion import setpoints
from shotplan.model.flight import Stage, Style, Wish
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import Setting

SIDES = {"left": -0.75 * math.pi, "right": 0.75 * math.pi}


@dataclass(frozen=True, kw_only=True)
class Quarter(Style):
    """`distance_m` out, half way between behind and one side."""

    name: ClassVar[str] = "quarter"
    flies: ClassVar[str] = "behind the rider and to one side"

    side: Literal["left", "right"]
    distance_m: Positive
    height_m: Positive

    def place(self, ride: Ride, stage: Stage) -> Wish:
        rider = ride.known_xyz_m
        out = self.distance_m * setpoints.unit(ride.course_rad + SIDES[self.side])
        camera = stage.raised(rider[..., :2] + out, self.height_m, "rider", rider[..., 2])
        return Wish.on_rider(camera, rider)

    def words(self) -> str:
        return f"{self.name} {self.side}, {self.distance_m:g} m out, {self.height_m:g} m above"

    def which(self) -> str:
        return self.side

    def settings(self) -> tuple[Setting, ...]:
        return (
            Setting.height(self.height_m, "rider"),
            Setting("distance_m", "out by", self.distance_m, "out"),
        )

    @classmethod
    def candidates(cls, search: Search) -> Iterator[Style]:
        return (cls(side="left", distance_m=d, height_m=5.0) for d in search.tries.behind_m)
'''


@pytest.fixture
def quarter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> type[Style]:
    """The class, of a file outside the package, listed."""
    path = tmp_path / "quarter.py"
    path.write_text(FILE, "utf-8")
    spec = importlib.util.spec_from_file_location("quarter", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "quarter", module)
    spec.loader.exec_module(module)
    kind = cast(type[Style], module.Quarter)
    monkeypatch.setattr(import_module("shotplan.styles"), "STYLES", (*STYLES, kind))
    return kind


def test_it_is_read_flown_judged_and_told(tmp_path: Path, quarter: type[Style]) -> None:
    oak = worlds.tree("oak", east_m=-11.0, north_m=40.0, height_m=9.0, radius_m=2.0)
    keys = {"style": "quarter", "side": "left", "distance_m": 12.0, "height_m": 4.0}
    site = {"shot": [{"name": "it", **keys}]}
    plan = planning.make(read(worlds.write_site(tmp_path / "site", features=[oak], site=site)))
    (shot,) = plan.shots
    assert isinstance(shot.scene.shot.style, quarter)
    # What would cure it follows from its settings.
    advice = shot.finding("clearance").advice
    assert "raise it to" in advice
    assert "`distance_m = " in advice
    (carded,) = card_of(plan).shots
    assert ("over rider", "4 m") in carded.dials
    assert ("out by", "12 m") in carded.dials
    assert carded.style == "quarter left, 12 m out, 4 m above"
    told = " ".join(brief_of(plan, 0).sentences)
    assert "The aircraft flies behind the rider and to one side (quarter left, 12 m out" in told


def test_it_is_searched_and_labelled(tmp_path: Path, quarter: type[Style]) -> None:
    assert searched()[-1] == "quarter"
    folder = worlds.write_site(tmp_path / "site", ride=worlds.straight(0.0, 100.0))
    outing = read(folder)
    assert any(isinstance(s, quarter) for s in candidates(outing, Wanted()))
    wanted = Wanted().with_({"styles": "quarter", "behind_m": "9, 14", "rides": "3"})
    table = which_style(outing, wanted)
    assert [c.label for c in table.candidates] == [
        "quarter left 9 m, 5 m up", "quarter left 14 m, 5 m up",
    ]  # fmt: skip
    assert table.groups() == ("quarter, left",)
    assert table.legs
    for leg in table.legs:
        for other in leg.easier:
            assert isinstance(other.style, quarter)
    assert 'style = "quarter"' in site_file.text(table, (folder / "site.toml").read_text("utf-8"))


def test_it_cannot_forget_what_a_style_must_say(quarter: type[Style]) -> None:
    for said in ("place", "words", "settings", "candidates"):
        silent = type("Silent", (quarter,), {said: getattr(Style, said)})
        with pytest.raises(TypeError, match=said):
            silent(side="left", distance_m=9.0, height_m=4.0)
