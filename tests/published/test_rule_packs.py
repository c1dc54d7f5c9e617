"""The packs' values against the notes read from the published texts (reference/rules.md).

`ROWS` has a row for each pack of the notes. A pack that is not among them needs none: what is true
of every pack, `tests/rules/` asks of it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import pytest

from shotplan.model.rules import Reminder, Rules, Source
from shotplan.rules import packs
from shotplan.units import FOOT_M, MILE_M


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
    assert str(us.height.source).startswith("14 CFR, 107.51(b) (read, ")
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


class Row(NamedTuple):
    """What rules.md says of one pack: height and its measure, structure allowance (radius, above,
    only on request), follow out of sight, people (least, one to one, passing), things of theirs,
    night and twilight, rider as pilot, observer."""

    height: tuple[float, str]
    structure: tuple[float, float, bool] | None
    follow_m: float | None
    people: tuple[float, bool, str]
    objects: tuple[float, tuple[str, ...]] | None
    dark: tuple[str, str] | None
    rider_pilot: str
    observer: str


SURFACE, DOWN = (120.0, "nearest-surface"), "straight-down"
FT_400 = 121.92
REQUEST = (50.0, 15.0, True)
# rules.md 10 (one row each), with 0.1 (height, structures), 0.2 (follow, rider), 9.1 (observer)
ROWS = {
    # 107.51(b): within 400 ft of a structure to 400 ft above it; 107.39; 107.29; 107.25(b); 107.33
    "us-part107": Row(
        (FT_400, DOWN), (FT_400, FT_400, False), None, (0.0, False, "no-go"), None,
        ("light", "light"), "sparsely-populated", "anywhere",
    ),
    # 44809(a)(3), (6): no allowance; co-located observer; people by CBO guidelines (memory)
    "us-recreational": Row(
        (FT_400, DOWN), None, None, (0.0, False, "no-go"), None, None, "not-said", "co-located"
    ),
    # UAS.OPEN.010(2), (3); .020(1) to (3); .060(2)(g), (4)
    "eu-open-a1": Row(
        SURFACE, REQUEST, 50.0, (0.0, False, "caution"), None, ("light", "any"), "yes", "alongside"
    ),
    # UAS.OPEN.030(1): 30 m and 1:1
    "eu-open-a2": Row(
        SURFACE, REQUEST, None, (30.0, True, "no-go"), None, ("light", "any"), "not-said",
        "alongside",
    ),
    # UAS.OPEN.040(1): none in range, 1:1 guide
    "eu-open-a3": Row(
        SURFACE, REQUEST, None, (0.0, True, "no-go"), None, ("light", "any"), "not-said",
        "alongside",
    ),
    # Code pt 4: below 250 g, UK0, UK1 none; UAS.OPEN.020(3): 50 m
    "uk-open-a1": Row(
        SURFACE, REQUEST, 50.0, (0.0, False, "caution"), None, ("light", "any"), "yes", "alongside"
    ),
    # UAS.OPEN.030: UK2 30 m, legacy < 2 kg 50 m (the stricter is taken)
    "uk-open-a2": Row(
        SURFACE, REQUEST, None, (50.0, True, "no-go"), None, ("light", "any"), "not-said",
        "alongside",
    ),
    # Code pt 6: 50 m from people and from individual buildings; 1:1 by GM1 UAS.OPEN.040(1)
    "uk-open-a3": Row(
        SURFACE, REQUEST, None, (50.0, True, "no-go"), (50.0, ("building",)), ("light", "any"),
        "not-said", "alongside",
    ),
    # 901.25(1): 61 m (200 ft), +30 m; 901.26: 30 m at any altitude; 901.37; 901.39
    "ca-basic": Row(
        (FT_400, DOWN), (60.96, 30.0, False), None, (30.0, False, "no-go"), None,
        ("light", "any"), "no", "anywhere",
    ),
    # section 5: 120 m, 30 m, day only; the assistant does not replace the pilot's sight
    "au-excluded": Row(
        (120.0, DOWN), None, None, (30.0, False, "no-go"), None, ("no", "no"), "not-said", "none"
    ),
    # section 6: consent of anyone flown above; daylight unless shielded
    "nz-part101": Row(
        (120.0, DOWN), None, None, (0.0, False, "no-go"), None, ("no", "no"), "not-said",
        "anywhere",
    ),
    # section 6: 150 m, 30 m from persons and objects, sunrise to sunset
    "jp-basic": Row(
        (150.0, DOWN), (30.0, 30.0, False), None, (30.0, False, "no-go"),
        (30.0, ("building", "pole", "wire")), ("no", "no"), "not-said", "none",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ROWS)
def test_every_pack_of_the_notes_has_their_numbers(name: str) -> None:
    pack = packs()[name]
    structure, people, day, crew = pack.structure, pack.people, pack.day, pack.crew
    assert people is not None
    assert crew is not None
    assert len(pack.reminders) >= 8
    assert ROWS[name] == Row(
        height=(pack.height.limit_m, pack.height.measured),
        structure=(structure.radius_m, structure.above_m, structure.on_request)
        if structure
        else None,
        follow_m=pack.sight.follow_within_m,
        people=(people.least_m, people.one_to_one, people.passing),
        objects=None if people.objects_m is None else (people.objects_m, people.objects),
        dark=(day.night, day.twilight) if day else None,
        rider_pilot=crew.rider_pilot,
        observer=crew.observer,
    )


def test_only_tall_structures_raise_the_european_ceiling() -> None:
    # rules.md 2 and 3, rows Obstacle > 105 m and Tall structure, SEEN (official)
    tall = [packs()[f"{where}-open-a{k}"].structure for where in ("eu", "uk") for k in (1, 2, 3)]
    assert [s is not None and s.least_height_m for s in tall] == [105.0] * 6


def test_speed_and_visibility(us: Rules) -> None:
    # rules.md 1, rows Groundspeed (use 44.70 m/s) and Visibility (3 SM, 4,828 m), SEEN
    assert us.max_speed_m_s is not None
    assert us.max_speed_m_s.value == 44.70
    assert us.least_visibility_m is not None
    assert us.least_visibility_m.value == pytest.approx(3 * MILE_M, abs=0.1)
    others = [packs()[name] for name in ROWS if name != "us-part107"]
    assert [p.max_speed_m_s or p.least_visibility_m for p in others] == [None] * len(others)


def test_american_twilight_goes_by_the_clock(us: Rules, eu: Rules) -> None:
    # rules.md 1, row Civil twilight: fixed 30 min beside sunrise and sunset, 107.29(b), (c)
    assert us.day is not None
    assert us.day.twilight_is == "fixed-30-min"
    assert eu.day is not None
    assert eu.day.twilight_is == "sun-6-deg"


def test_what_is_from_memory_says_so() -> None:
    found = packs()
    # rules.md 2, row A1: SEEN (official), MEMORY; 10, us_rec: people by CBO; 9.1, Japan: MEMORY
    assert [
        getattr(found[name], table).source.known
        for name, table in (
            ("eu-open-a1", "people"), ("us-recreational", "people"), ("jp-basic", "crew"),
            ("jp-basic", "structure"),
        )
    ] == ["memory"] * 4  # fmt: skip


def test_a_cliff_is_no_shield_in_new_zealand_and_the_conflict_is_said() -> None:
    # rules.md 6, row NZ night: natural topology is not a shield; Part 1 from memory conflicts
    (shield,) = [r for r in packs()["nz-part101"].reminders if "cliff" in r.text]
    assert "not counted as a shield" in shield.text
    assert "conflict" in shield.text
    assert shield.known == "memory"


def test_areas_that_no_drawing_knows_are_reminders() -> None:
    # rules.md 2 and 3, row A3: 150 m from residential, commercial, industrial, recreational areas
    for name in ("eu-open-a3", "uk-open-a3"):
        (areas,) = [r for r in packs()[name].reminders if "150 m" in r.text]
        assert "it is not checked" in areas.text


@pytest.mark.parametrize("name", ROWS)
def test_every_clause_such_a_pack_cites_stands_in_the_notes(name: str, rules_notes: str) -> None:
    pack = packs()[name]
    tables: tuple[Any, ...] = (
        pack.height, pack.sight, pack.structure, pack.people, pack.day, pack.crew,
        pack.max_speed_m_s, pack.least_visibility_m,
    )  # fmt: skip
    sources: list[Source | None] = [t.source for t in tables if t is not None]
    sources += [pack.sight.follow_source, pack.people.objects_source if pack.people else None]
    for source in filter(None, sources):
        for clause in source.clause.split(", "):
            assert clause in rules_notes


@pytest.fixture(scope="module")
def rules_notes() -> str:
    notes = Path(__file__).parents[3] / "shared" / "reference" / "rules.md"
    if not notes.is_file():
        pytest.skip(f"no notes at {notes}")
    return notes.read_text(encoding="utf-8")
