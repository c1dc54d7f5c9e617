from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from shotplan import rules
from shotplan.errors import Problems
from shotplan.files.bundled import pack_files
from shotplan.model.rules import Rules, Source

WHERE = "site.toml: rules"


def load(folder: Path, text: str, name: str = "own.toml") -> tuple[Rules | None, list[str]]:
    (folder / "own.toml").write_text(text)
    problems = Problems()
    made = rules.load(name, folder, WHERE, problems)
    return made, [str(p) for p in problems.found]


def test_a_bundled_pack_by_its_id(tmp_path: Path) -> None:
    problems = Problems()
    made = rules.load("eu-open-a1", tmp_path, WHERE, problems)
    assert len(problems) == 0
    assert made == rules.packs()["eu-open-a1"]
    assert made.base == ""


def sources_of(pack: Rules) -> list[Source]:
    """The source of every table of a pack."""
    parts: list[Any] = [
        pack.height, pack.sight, pack.structure, pack.people, pack.day, pack.crew,
        pack.max_speed_m_s, pack.least_visibility_m,
    ]  # fmt: skip
    others = [pack.sight.follow_source, pack.people.objects_source if pack.people else None]
    return [p.source for p in parts if p is not None] + [s for s in others if s is not None]


@pytest.mark.parametrize("name", sorted(pack_files()))
def test_every_pack_says_where_its_numbers_stand(name: str) -> None:
    pack = rules.packs()[name]
    assert pack.id == name
    sources = sources_of(pack)
    assert (pack.sight.follow_within_m is None) == (pack.sight.follow_source is None)
    for source in sources:
        assert source.document
        assert source.clause
        assert date.fromisoformat(source.read_on)
    assert pack.reminders
    assert all(r.source and r.text.endswith(".") for r in pack.reminders)
    for reminder in pack.reminders:
        for promise in ("you may fly", "is legal", "is safe", "allowed to fly"):
            assert promise not in reminder.text


def test_an_own_pack_tightens(tmp_path: Path) -> None:
    made, said = load(
        tmp_path,
        'base = "eu-open-a1"\n[height]\nlimit_ft = 200\nmeasured = "straight-down"\n'
        '[sight]\nfollow_within_m = 30\n[[reminders]]\ntext = "Ask the farmer."\n',
    )
    base = rules.packs()["eu-open-a1"]
    assert said == []
    assert made is not None
    assert (made.id, made.base, made.european) == ("own.toml", "eu-open-a1", True)
    assert made.height.limit_m == pytest.approx(60.96)
    assert made.height.measured == "straight-down"
    assert made.height.source.document.startswith("your own limit_m and measured in own.toml")
    assert made.sight.follow_within_m == 30.0
    assert made.sight.follow_source is not None
    assert made.sight.follow_source.document.startswith("your own follow_within_m in own.toml")
    assert made.sight.source == base.sight.source
    assert made.reminders[0].text == "Ask the farmer."
    assert made.reminders[1:] == base.reminders


def test_an_own_pack_tightens_whose_eyes_count(tmp_path: Path) -> None:
    made, said = load(
        tmp_path,
        'base = "ca-basic"\nid = "mine"\n[sight]\neyes = "pilot"\ndistance_limit = true\n'
        "follow_within_m = 0\n",
    )
    assert said == []
    assert made is not None
    assert made.id == "mine"
    assert (made.sight.eyes, made.sight.distance_limit) == ("pilot", True)
    assert made.sight.follow_within_m is None
    assert "eyes and distance_limit" in made.sight.source.document


def test_never_following_out_of_sight_is_tighter(tmp_path: Path) -> None:
    made, said = load(tmp_path, 'base = "eu-open-a1"\n[sight]\nfollow_within_m = 0\n')
    assert said == []
    assert made is not None
    assert made.sight.follow_within_m is None


def test_an_own_pack_that_only_names_its_base_changes_nothing(tmp_path: Path) -> None:
    made, said = load(tmp_path, 'base = "us-part107"\n')
    base = rules.packs()["us-part107"]
    assert said == []
    assert made is not None
    assert (made.height, made.sight, made.reminders) == (base.height, base.sight, base.reminders)


def test_an_own_pack_tightens_every_other_table(tmp_path: Path) -> None:
    made, said = load(
        tmp_path,
        'base = "us-part107"\n[structure]\nradius_m = 0\n[people]\nleast_m = 20\nobjects_m = 15\n'
        'one_to_one = true\n[day]\nnight = "no"\n[crew]\nrider_pilot = "no"\n'
        'observer = "alongside"\n[speed]\nat_most_km_h = 36\n[visibility]\nat_least_m = 6000\n',
    )
    assert said == []
    assert made is not None
    assert made.structure is not None
    assert made.structure.radius_m == 0.0
    assert made.people is not None
    assert (made.people.least_m, made.people.one_to_one, made.people.objects_m) == (20, True, 15)
    assert (
        made.people.source.document
        == "your own least_m and one_to_one in own.toml, stricter than 14 CFR"
    )
    assert made.people.objects_source is not None
    assert made.people.objects_source.document.startswith("your own objects_m in own.toml")
    assert made.day is not None
    assert (made.day.night, made.day.twilight) == ("no", "light")
    assert made.crew is not None
    assert (made.crew.rider_pilot, made.crew.observer) == ("no", "alongside")
    assert made.max_speed_m_s is not None
    assert made.max_speed_m_s.value == pytest.approx(10.0)
    assert made.least_visibility_m is not None
    assert made.least_visibility_m.value == 6000.0


def test_an_own_pack_may_add_a_rule_its_base_has_not(tmp_path: Path) -> None:
    made, said = load(
        tmp_path,
        'base = "us-recreational"\n[day]\nnight = "no"\n[speed]\nat_most_m_s = 9\n',
    )
    assert said == []
    assert made is not None
    assert made.day is not None
    assert (made.day.night, made.day.twilight) == ("no", "any")
    assert made.day.source.document.startswith("your own night in own.toml")
    assert made.max_speed_m_s is not None
    assert made.max_speed_m_s.value == 9.0
    assert "which has no such rule" in made.max_speed_m_s.source.document
    assert made.least_visibility_m is None


TIGHTEN = "an own pack may only tighten: leave it out or make it stricter"
LOOSE = [
    ("eu-open-a1", "height", "limit_m = 150", "got 150.0, looser than eu-open-a1, which has 120.0"),
    (
        "us-part107",
        "height",
        'measured = "nearest-surface"',
        'got "nearest-surface", looser than us-part107, which has "straight-down"',
    ),
    (
        "us-part107",
        "sight",
        'eyes = "pilot-or-observer"',
        'got "pilot-or-observer", looser than us-part107, which has "pilot"',
    ),
    (
        "eu-open-a1",
        "sight",
        "distance_limit = false",
        "got false, looser than eu-open-a1, which has true",
    ),
    (
        "eu-open-a1",
        "sight",
        "follow_within_m = 51",
        "got 51.0, looser than eu-open-a1, which has 50.0",
    ),
    ("ca-basic", "sight", "follow_within_m = 5", "got 5.0, looser than ca-basic, which has none"),
    ("ca-basic", "structure", "radius_m = 76.2", "got 76.2, looser than ca-basic, which has 60.96"),
    ("ca-basic", "structure", "above_m = 31", "got 31.0, looser than ca-basic, which has 30.0"),
    (
        "eu-open-a1",
        "structure",
        "least_height_m = 100",
        "got 100.0, looser than eu-open-a1, which has 105.0",
    ),
    (
        "eu-open-a1",
        "structure",
        "on_request = false",
        "got false, looser than eu-open-a1, which has true",
    ),
    (
        "au-excluded",
        "structure",
        "radius_m = 30",
        "got 30.0, looser than au-excluded, which has none",
    ),
    ("eu-open-a2", "people", "least_m = 29", "got 29.0, looser than eu-open-a2, which has 30.0"),
    (
        "eu-open-a2",
        "people",
        "one_to_one = false",
        "got false, looser than eu-open-a2, which has true",
    ),
    (
        "us-part107",
        "people",
        'passing = "caution"',
        'got "caution", looser than us-part107, which has "no-go"',
    ),
    ("jp-basic", "people", "objects_m = 20", "got 20.0, looser than jp-basic, which has 30.0"),
    ("us-part107", "day", 'night = "any"', 'got "any", looser than us-part107, which has "light"'),
    ("jp-basic", "day", 'twilight = "light"', 'got "light", looser than jp-basic, which has "no"'),
    ("ca-basic", "crew", 'rider_pilot = "yes"', 'got "yes", looser than ca-basic, which has "no"'),
    (
        "au-excluded",
        "crew",
        'observer = "alongside"',
        'got "alongside", looser than au-excluded, which has "none"',
    ),
    ("us-part107", "speed", "at_most_m_s = 50", "got 50.0, looser than us-part107, which has 44.7"),
    (
        "us-part107",
        "visibility",
        "at_least_m = 3000",
        "got 3000.0, looser than us-part107, which has 4828.0",
    ),
]


@pytest.mark.parametrize(("base", "head", "line", "message"), LOOSE)
def test_loosening_is_refused(
    tmp_path: Path, base: str, head: str, line: str, message: str
) -> None:
    made, said = load(tmp_path, f'base = "{base}"\n[{head}]\n{line}\n')
    key = line.split(" ")[0]
    assert made is None
    assert said == [f"own.toml: {head}: {key}: {message}; {TIGHTEN}"]


def test_every_loosening_is_said_at_once_and_each_time(tmp_path: Path) -> None:
    text = 'base = "ca-basic"\n[height]\nlimit_m = 130\n[sight]\nfollow_within_m = 5\n'
    (tmp_path / "own.toml").write_text(text)
    problems = Problems()
    for _ in range(2):
        assert rules.load("own.toml", tmp_path, WHERE, problems) is None
    assert len(problems) == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "title = 'x'\n",
            "own.toml: base: is missing; wanted the bundled pack that this one makes",
        ),
        (
            'base = "eu-open"\n',
            'own.toml: base: got "eu-open"; wanted "au-excluded", "au-recreational", ',
        ),
        ('base = "eu-open-a1"\nlimit_m = 3\n', 'own.toml: "limit_m" is not a key known here'),
        (
            'base = "eu-open-a1"\n[height]\nlimit_m = 0\n',
            "own.toml: height: limit_m: got 0; wanted a number more than 0",
        ),
        (
            'base = "eu-open-a1"\n[sight]\neyes = "piolt"\n',
            'own.toml: sight: eyes: got "piolt"; wanted "pilot" or "pilot-or-observer"; did you',
        ),
        (
            'base = "eu-open-a1"\n[[reminders]]\nknown = "read"\n',
            "own.toml: reminders 1: text is missing; wanted a text",
        ),
        ("base = \n", "own.toml: is not TOML"),
    ],
)
def test_what_is_wrong_is_said(tmp_path: Path, text: str, message: str) -> None:
    made, said = load(tmp_path, text)
    assert made is None
    assert len(said) == 1
    assert said[0].startswith(message)


def alone(**says: str) -> str:
    """A pack that stands alone: a bundled one's text with other words for some keys."""
    text = pack_files()["us-recreational"].read_text("utf-8")
    words = {
        "id": '"ours"',
        "title": '"Our country, by its decree 7"',
        "countries": '["CL"]',
        **says,
    }
    for key, value in words.items():
        text = re.sub(rf"^{key} = .*$", f"{key} = {value}", text, count=1, flags=re.MULTILINE)
    return text


def test_an_own_pack_may_stand_alone(tmp_path: Path) -> None:
    made, said = load(tmp_path, alone(limit_m="90.0", document='"Decree 7"', clause='"art. 3"'))
    assert said == []
    assert made is not None
    assert (made.id, made.own, made.base, made.countries) == ("ours", True, "", ("CL",))
    assert made.title == "own pack: Our country, by its decree 7"
    assert made.height.limit_m == 90.0
    assert str(made.height.source).startswith("Decree 7, art. 3 (at second hand, 202")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (alone().replace('clause = "44809(a)(6)"\n', ""), "own.toml: height: clause is missing"),
        (alone().replace('known = "secondary"\n', "", 1), "own.toml: height: known is missing"),
        (alone(known='"sure"'), 'own.toml: height: known: got "sure"; wanted "read", "secondary"'),
        (alone(id='"us-part107"'), 'own.toml: id: got "us-part107", a bundled pack\'s'),
        (alone(countries="[]"), "own.toml: countries: there is none; wanted the country"),
    ],
)
def test_a_pack_that_stands_alone_says_where_each_number_stands(
    tmp_path: Path, text: str, message: str
) -> None:
    made, said = load(tmp_path, text)
    assert made is None
    (problem,) = said
    assert problem.startswith(message)


def test_an_own_pack_may_ask_for_a_lighter_aircraft(tmp_path: Path) -> None:
    made, said = load(tmp_path, 'base = "eu-open-a1"\n[aircraft]\nunder_kg = 0.5\n')
    assert said == []
    assert made is not None
    assert made.aircraft is not None
    assert [t.under_kg for t in made.aircraft.takes] == [0.25, 0.25, 0.5]
    assert made.aircraft.source.document.startswith("your own under_kg in own.toml")
    made, said = load(tmp_path, 'base = "jp-basic"\n[aircraft]\nunder_kg = 2\n')
    assert said == []
    assert made is not None
    assert made.aircraft is not None
    assert [t.under_kg for t in made.aircraft.takes] == [2.0]
    made, said = load(tmp_path, 'base = "eu-open-a1"\n[aircraft]\nunder_kg = 1.0\n')
    assert made is None
    assert "looser than eu-open-a1" in said[0]


def test_an_unknown_pack(tmp_path: Path) -> None:
    made, said = load(tmp_path, "", name="eu-open-a9")
    assert made is None
    (message,) = said
    assert message.startswith('site.toml: rules: got "eu-open-a9"; wanted "au-excluded", ')
    assert '"us-recreational"' in message
    assert ', or the path of your own .toml; did you mean "eu-open-a' in message
    made, said = load(tmp_path, "", name="no/such.toml")
    assert made is None
    assert said[0].startswith("site.toml: rules: there is no such folder: ")
