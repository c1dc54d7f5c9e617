"""The bundled packs against the audit of November 2026 (reference/rules.md, addendum), row by row.

Statuses are what the addendum says: S read in a stored text, M from memory.
"""

from __future__ import annotations

import pytest

from shotplan.model.rules import Reminder, Rules
from shotplan.rules import packs

EU = ("eu-open-a1", "eu-open-a2", "eu-open-a3")
UK = ("uk-open-a1", "uk-open-a2", "uk-open-a3")


def about(name: str, words: str) -> Reminder:
    """The reminder with these words in it."""
    (found,) = [r for r in packs()[name].reminders if words in r.text]
    return found


def takes(name: str) -> list[tuple[str, float | None]]:
    """Mark and the mass under which it is taken, without doubt."""
    rule = packs()[name].aircraft
    assert rule is not None
    return [(m, t.under_kg) for t in rule.takes if not t.doubt for m in t.marks or ("any",)]


def test_no_older_aircraft_in_a2() -> None:
    # row `eu-open-a2`: since 1 Jan 2024 none without class mark, S (EASA questions and answers)
    said = about("eu-open-a2", "without a class mark")
    assert "Since 1 January 2024" in said.text
    assert said.known == "read"
    assert "EASA, questions and answers" in said.source
    assert not [r for r in packs()["eu-open-a2"].reminders if "older one the rules name" in r.text]


def test_mass_and_class_of_the_european_packs() -> None:
    # row `eu-open-a1`, `-a2`, `-a3`, masses M
    assert takes("eu-open-a1") == [("", 0.25), ("C0", 0.25), ("C1", 0.9)]
    assert takes("eu-open-a2") == [("C2", 4.0)]
    assert takes("eu-open-a3") == [("C2", 4.0), ("C3", 25.0), ("C4", 25.0), ("", 25.0)]
    for name in EU:
        rule = packs()[name].aircraft
        assert rule is not None
        assert rule.source.known == "memory"


@pytest.mark.parametrize("name", EU)
@pytest.mark.parametrize("words", ["remote identification", "geo-awareness", "online training",
                                   "minimum age"])  # fmt: skip
def test_reminders_the_european_packs_lacked(name: str, words: str) -> None:
    # row EU packs, M
    assert about(name, words).known == "memory"


@pytest.mark.parametrize(
    ("words", "clause", "known"),
    [  # row `us-part107`; section 1, rows Remote ID, Marine sanctuaries; 9.2, item 16
        ("remote pilot certificate", "107.12", "memory"),
        ("broadcasts its identity", "Part 89", "read"),
        ("No alcohol for 8 hours", "107.27", "read"),
        ("below 1,000 ft", "15 CFR 922", "read"),
    ],
)
def test_reminders_the_american_pack_lacked(words: str, clause: str, known: str) -> None:
    said = about("us-part107", words)
    assert (clause in said.source, said.known) == (True, known)


@pytest.mark.parametrize("name", ["us-part107", "ca-basic", "jp-basic"])
def test_no_drawn_thing_raises_a_ceiling(name: str) -> None:
    # row `us-part107`, `ca-basic`, `jp-basic`
    said = [r for r in packs()[name].reminders if "nothing drawn raises the ceiling" in r.text]
    assert len(said) == 1
    assert "is for you to find out" in said[0].text


def test_the_canadian_pack() -> None:
    # row `ca-basic`: read again in the consolidation of 18 June 2026: 901.23, .25(1), .26, .27,
    # .28, .34, .35, .37, .39; what was not read again keeps its date
    pack = packs()["ca-basic"]
    assert "5 January" not in pack.title
    june, january = "consolidated to 18 June 2026", "consolidated to 5 January 2026"
    people, day, aircraft = pack.people, pack.day, pack.aircraft
    assert people is not None
    assert day is not None
    assert aircraft is not None
    assert pack.crew is not None
    assert pack.structure is not None
    again = (pack.height.source, pack.structure.source, people.source, day.source)
    assert [(june in s.document, s.read_on) for s in again] == [(True, "2026-11-30")] * 4
    for source in (pack.sight.source, pack.crew.source, aircraft.source):
        assert january in source.document
        assert source.read_on == "2026-11-25"
    for clause in ("901.23", "901.27", "901.28"):
        (one,) = [r for r in pack.reminders if r.source.endswith(clause)]
        assert (june in one.source, one.known) == (True, "read")
    for clause in ("901.19", "900.06", "901.20"):
        (one,) = [r for r in pack.reminders if r.source.endswith(clause)]
        assert january in one.source
    airspace = about("ca-basic", "Controlled airspace")
    assert "901.62" in airspace.source
    assert "3 nautical miles" in airspace.text
    assert "1 nautical mile " in airspace.text
    assert airspace.known != "read"
    assert "901.35(2)" in about("ca-basic", "frost or ice").source
    assert about("ca-basic", "registered").known == "memory"
    assert "certificate for basic operations" in about("ca-basic", "registered").text


def test_the_australian_packs() -> None:
    # row `au-excluded`: accreditation and registration are mandatory, S (regulator's page)
    said = about("au-excluded", "accredited")
    assert ("registered" in said.text, "mandatory" in said.text, said.known) == (True, True, "read")
    assert about("au-excluded", "One aircraft at a time").known == "secondary"
    # ... no recreational pack; nothing of it was read
    fun = packs()["au-recreational"]
    assert fun.countries == ("AU",)
    assert "read" not in {r.known for r in fun.reminders}
    assert fun.aircraft is not None
    assert fun.aircraft.source.known == "memory"
    assert about("au-recreational", "the same for recreation").known == "memory"


def test_nothing_in_the_japanese_pack_is_read() -> None:
    # row `jp-basic`: four reminders came from secondary pages; registration from 100 g
    assert "read" not in {r.known for r in packs()["jp-basic"].reminders}
    said = about("jp-basic", "20 June 2022")
    assert "From 100 g" in said.text
    assert "broadcasts its identity" in said.text


def test_the_new_zealand_pack() -> None:
    # row `nz-part101`: [people], [day], consent, daylight, 4 km came from a secondary page; night
    # is the sun at -6 degrees, so twilight is not night
    pack = packs()["nz-part101"]
    assert pack.people is not None
    assert pack.day is not None
    assert (pack.people.source.known, pack.day.source.known) == ("secondary", "secondary")
    assert (pack.day.night, pack.day.twilight, pack.day.twilight_is) == ("no", "any", "sun-6-deg")
    for words in ("Consent", "Not at night", "4 km", "twilight is not night"):
        assert about("nz-part101", words).known == "secondary"
    assert not [r for r in pack.reminders if "sunrise to sunset" in r.text]


@pytest.mark.parametrize("name", UK)
def test_the_british_packs(name: str) -> None:
    # row UK packs: class marks came from an association's page; Code points 35 to 37 were read in
    # the December 2023 edition
    marks = about(name, "New models carry class marks")
    assert (marks.known, "association" in marks.source) == ("secondary", True)
    pack = packs()[name]
    for said in pack.reminders:
        if any(point in said.source for point in ("point 35", "36", "point 37")):
            assert "edition of December 2023" in said.source
    assert pack.structure is not None
    assert pack.structure.source.document.endswith("edition of December 2023")
    assert pack.structure.source.known == "secondary"


@pytest.mark.parametrize("name", UK)
def test_the_articles_do_not_stand_in_the_annex(name: str) -> None:
    pack: Rules = packs()[name]
    for source in (pack.sight.source, *((pack.crew.source,) if pack.crew else ())):
        assert ("Art. 2(7)" in source.clause) <= ("Annex" not in source.document)
