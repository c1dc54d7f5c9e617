"""Mass as flown and class mark against the pack."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from shotplan.checks import aircraft
from shotplan.judging import judge
from shotplan.judging.judged import Finding
from shotplan.model.verdict import Verdict
from tests import worlds

GO, CAUTION, UNKNOWN, NO = Verdict.GO, Verdict.CAUTION, Verdict.UNKNOWN, Verdict.NO_GO
SAID_NOT = "not said"


def found(folder: Path, rules: str, mass_kg: float, mark: str = SAID_NOT, **site: Any) -> Finding:
    craft: dict[str, Any] = {"class": "unsensed", "mass_kg": mass_kg}
    if mark != SAID_NOT:
        craft["class_mark"] = mark
    says = {"rules": rules, "aircraft": craft, **site}
    scene = worlds.staged(folder, site=says, ride=worlds.straight(0.0, 30.0))
    return judge.find(aircraft.CHECK, scene)


# reference/rules.md, addendum of November 2026, row "mass and class are not asked"; the masses of
# the marks are from memory there; rows A1, A2 of section 2, People and A2 of section 3
@pytest.mark.parametrize(
    ("rules", "mass_kg", "mark", "verdict"),
    [
        ("eu-open-a1", 0.249, "", GO),
        ("eu-open-a1", 0.249, SAID_NOT, GO),  # whatever of its marks it has
        ("eu-open-a1", 0.25, "", NO),  # under 0.25 kg
        ("eu-open-a1", 0.5, "", NO),
        ("eu-open-a1", 0.5, "C0", NO),
        ("eu-open-a1", 0.5, "C1", GO),
        ("eu-open-a1", 0.5, "C2", NO),
        ("eu-open-a1", 0.5, SAID_NOT, UNKNOWN),
        ("eu-open-a1", 0.9, SAID_NOT, NO),  # under 0.9 kg whatever its mark
        ("eu-open-a2", 0.249, "", NO),  # none without a mark since 1 January 2024
        ("eu-open-a2", 0.249, SAID_NOT, UNKNOWN),
        ("eu-open-a2", 3.9, "C2", GO),
        ("eu-open-a2", 4.0, "C2", NO),
        ("eu-open-a2", 0.5, "UK2", NO),  # a British mark is none there
        ("eu-open-a3", 24.0, "", GO),
        ("eu-open-a3", 24.0, "C4", GO),
        ("eu-open-a3", 25.0, SAID_NOT, NO),
        ("eu-open-a3", 0.5, "C1", CAUTION),
        ("uk-open-a1", 0.5, "UK1", GO),
        ("uk-open-a1", 0.5, "C1", GO),
        ("uk-open-a1", 0.5, "", NO),
        ("uk-open-a2", 1.9, "", GO),
        ("uk-open-a2", 1.9, SAID_NOT, GO),
        ("uk-open-a2", 2.5, SAID_NOT, UNKNOWN),
        ("uk-open-a3", 0.2, "C0", CAUTION),
        ("ca-basic", 0.9, SAID_NOT, GO),  # 900.01: 250 g to 25 kg
        ("ca-basic", 26.0, SAID_NOT, NO),
        ("au-excluded", 1.9, "", GO),  # 101.237: below 2 kg, or over one's own land
        ("au-excluded", 2.5, "", CAUTION),
        ("jp-basic", 0.9, "", GO),  # no number is noted
    ],
)
def test_mass_and_mark_against_the_pack(
    tmp_path: Path, rules: str, mass_kg: float, mark: str, verdict: Verdict
) -> None:
    one = found(tmp_path, rules, mass_kg, mark)
    assert (one.verdict, one.family) == (verdict, "rule")
    if verdict != GO:
        assert f"{mass_kg:g} kg" in one.reason


def test_what_it_says(tmp_path: Path) -> None:
    one = found(tmp_path, "eu-open-a1", 0.5, "C0")
    assert one.reason == (
        "the aircraft weighs 0.5 kg and has class mark C0; eu-open-a1 takes no class mark "
        "under 0.25 kg, C0 under 0.25 kg, C1 under 0.9 kg"
    )
    assert (one.value, one.limit, one.margin) == (0.5, 0.25, -0.25)
    assert "UAS.OPEN.020" in one.source
    assert "from memory" in one.source


def test_its_go_if_names_the_mark_that_would_do(tmp_path: Path) -> None:
    one = found(tmp_path / "a", "eu-open-a1", 0.5)
    (limit,) = one.go_if
    assert (limit.key, limit.bound, limit.word) == ("aircraft.class_mark", "is", "C1")
    assert 'go if aircraft.class_mark is "C1"' in one.advice
    assert found(tmp_path / "b", "eu-open-a1", 0.5, limit.word).verdict == GO
    assert found(tmp_path / "c", "eu-open-a1", 0.5, "C3").verdict == NO


@pytest.mark.parametrize("mark", ["c1", "CO", "C7", "UK"])
def test_a_mark_that_is_none_is_refused(tmp_path: Path, mark: str) -> None:
    with pytest.raises(Exception, match=r'class_mark: got "\w+"; wanted the class mark printed'):
        found(tmp_path, "eu-open-a1", 0.5, mark)
