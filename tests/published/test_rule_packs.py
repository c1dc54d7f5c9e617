"""The packs' values against the notes read from the published texts (reference/rules.md)."""

from __future__ import annotations

from pathlib import Path

import pytest

from shotplan.model.rules import Reminder, Rules
from shotplan.rules import packs
from shotplan.units import FOOT_M


@pytest.fixture(scope="module")
def eu() -> Rules:
    return packs()["eu-open-a1"]


@pytest.fixture(scope="module")
def us() -> Rules:
    return packs()["us-part107"]


@pytest.fixture(scope="module")
def ca() -> Rules:
    return packs()["ca-basic"]


def about(pack: Rules, clause: str) -> Reminder:
    """The reminder whose source names the clause."""
    (found,) = [r for r in pack.reminders if r.source.endswith(clause)]
    return found


def test_height(eu: Rules, us: Rules, ca: Rules) -> None:
    # rules.md 0.1, row EU/EASA: 120 m, 3-D distance to the closest point of the surface of the
    # earth, UAS.OPEN.010(2), SEEN (official)
    assert (eu.height.limit_m, eu.height.measured) == (120.0, "nearest-surface")
    assert (eu.height.source.clause, eu.height.source.known) == ("UAS.OPEN.010(2)", "read")
    # rules.md 0.1, row US Part 107: 400 ft (121.92 m), vertical, 14 CFR 107.51(b), SEEN
    assert us.height.limit_m == pytest.approx(400 * FOOT_M, abs=1e-12)
    assert us.height.measured == "straight-down"
    assert (str(us.height.source)) == "14 CFR, 107.51(b) (read, 2026-11-25)"
    # rules.md 0.1, row Canada: 400 ft (122 m) AGL, vertical, CARs 901.25(1), SEEN (official)
    assert ca.height.limit_m == pytest.approx(400 * FOOT_M, abs=1e-12)
    assert ca.height.measured == "straight-down"
    assert (ca.height.source.clause, ca.height.source.known) == ("901.25(1)", "read")


@pytest.mark.parametrize(
    ("straight_m", "surface_m", "eu_over", "us_over"),
    [  # rules.md 0.1, check values at a cliff: vertical and nearest distance, over the limit or not
        (180.0, 30.00, False, True),
        (180.0, 58.31, False, True),
        (180.0, 104.40, False, True),
        (180.0, 123.69, True, True),
        (110.0, 53.85, False, False),
        (120.0, 63.25, False, False),
    ],
)
def test_height_at_a_cliff(
    straight_m: float, surface_m: float, eu_over: bool, us_over: bool, eu: Rules, us: Rules
) -> None:
    def over(pack: Rules) -> bool:
        value = straight_m if pack.height.measured == "straight-down" else surface_m
        return value > pack.height.limit_m

    assert (over(eu), over(us)) == (eu_over, us_over)


def test_whose_eyes_count(eu: Rules, us: Rules, ca: Rules) -> None:
    # rules.md 2, rows VLOS definition (Art. 2(7)) and UA observer (does not extend the pilot's
    # range): SEEN (secondary); section 9.1: EU observer extends the pilot's sight: no
    assert (eu.sight.eyes, eu.sight.source.known) == ("pilot", "secondary")
    # rules.md 9.1, row US 107: no for the ability (107.31(a)), yes only for the duty of looking
    assert (us.sight.eyes, us.sight.source.clause) == ("pilot", "107.31(a)")
    assert us.sight.source.known == "read"
    # rules.md 4, row VLOS: pilot or VO has it in VLOS, 901.11, 900.01; all SEEN (official)
    assert (ca.sight.eyes, ca.sight.source.clause) == ("pilot-or-observer", "901.11, 900.01")
    assert ca.sight.source.known == "read"


def test_following_out_of_sight(eu: Rules, us: Rules, ca: Rules) -> None:
    # rules.md 0.2, row EU: A1 only, within 50 m of the remote pilot, UAS.OPEN.020(3); section 11.4:
    # the EU text of .020 was not visible, so at second hand
    assert eu.sight.follow_within_m == 50.0
    assert eu.sight.follow_source is not None
    assert eu.sight.follow_source.clause == "UAS.OPEN.020(3)"
    assert eu.sight.follow_source.known == "secondary"
    # rules.md 0.2, rows US Part 107 and Canada: no
    assert us.sight.follow_within_m is None
    assert ca.sight.follow_within_m is None


def test_where_the_distance_formula_binds(eu: Rules, us: Rules, ca: Rules) -> None:
    # rules.md 2, rows ALOS and DLOS: European guidance; DEFINITIONS "sight": elsewhere a caution
    assert [p.sight.distance_limit for p in (eu, us, ca)] == [True, False, False]
    assert [p.european for p in (eu, us, ca)] == [True, False, False]


def test_countries(eu: Rules, us: Rules, ca: Rules) -> None:
    assert (us.countries, ca.countries) == (("US",), ("CA",))
    # the 27 member states (general knowledge); rules.md 0.1, row EU/EASA adds CH, NO, IS, LI
    assert len(set(eu.countries)) == 31
    assert {"CH", "NO", "IS", "LI", "IE", "AT"} <= set(eu.countries)
    assert "GB" not in eu.countries


def test_reminders_of_the_european_pack(eu: Rules) -> None:
    # rules.md 2, row Obstacle > 105 m: 50 m horizontally, 15 m above, SEEN (official)
    tall = about(eu, "UAS.OPEN.010(3) and GM1")
    assert tall.known == "read"
    assert all(number in tall.text for number in ("50 m", "105 m", "15 m"))
    # rules.md 2, row A1: SEEN (official), MEMORY: the weaker word counts
    assert about(eu, "UAS.OPEN.020(1) and (2)").known == "memory"
    # rules.md 2, row Night: green flashing light, SEEN (secondary)
    assert about(eu, "UAS.OPEN.060(2)(g)").known == "secondary"
    # rules.md 2, row Registration: 250 g or 80 J or a camera, Art. 14(5), MEMORY
    registers = about(eu, "Art. 14(5)")
    assert registers.known == "memory"
    assert "250 g" in registers.text
    assert "80 J" in registers.text


def test_reminders_of_the_american_pack(us: Rules) -> None:
    # rules.md 1, rows Visibility (3 SM, 4,828 m) and Cloud clearance (500 ft, 2,000 ft), SEEN
    far = about(us, "107.51(c) and (d)")
    assert far.known == "read"
    assert all(number in far.text for number in ("4,828 m", "152 m", "610 m"))
    # rules.md 1, row Groundspeed: 87 kt (100 mph), SEEN
    assert "87 knots (100 mph)" in about(us, "107.51(a)").text
    # rules.md 1, row Moving vehicle: only over sparsely populated area, 107.25, SEEN
    assert "sparsely populated" in about(us, "107.25(b)").text
    # rules.md 1, row Event report: 10 days, $500, 107.9, SEEN
    report = about(us, "14 CFR 107.9")
    assert "10 days" in report.text
    assert "500 dollars" in report.text


def test_reminders_of_the_canadian_pack(ca: Rules) -> None:
    # rules.md 4, row Bystanders: 100 ft (30 m) horizontally and at any altitude, 901.26
    people = about(ca, "901.26")
    assert "100 ft (30 m)" in people.text
    assert "at any height" in people.text
    # rules.md 4, row Rider as pilot: not while operating a moving vehicle, 901.37, 901.20(4)
    assert "the rider is not the pilot" in about(ca, "901.37, 901.20(4)").text
    # rules.md 4, row Altitude: 100 ft (30 m) above a structure when < 200 ft (61 m) from it
    assert all(n in about(ca, "901.25(1)").text for n in ("200 ft (61 m)", "100 ft (30 m)"))
    # rules.md 4, row Parks Canada: MEMORY
    assert about(ca, "Parks Canada").known == "memory"


@pytest.mark.parametrize("pack", packs().values(), ids=list(packs()))
def test_every_clause_a_pack_cites_stands_in_the_notes(pack: Rules, rules_notes: str) -> None:
    for source in (pack.height.source, pack.sight.source, pack.sight.follow_source):
        if source is None:
            continue
        for clause in source.clause.split(", "):
            assert clause in rules_notes


@pytest.fixture(scope="module")
def rules_notes() -> str:
    notes = Path(__file__).parents[3] / "shared" / "reference" / "rules.md"
    if not notes.is_file():
        pytest.skip(f"no notes at {notes}")
    return notes.read_text(encoding="utf-8")
