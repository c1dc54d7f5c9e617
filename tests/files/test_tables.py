from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, timezone
from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field

from shotplan.errors import Problems
from shotplan.files.tables import (
    Azimuth,
    Count,
    Date,
    Finite,
    Flag,
    Moment,
    NonNegative,
    Positive,
    Ratio,
    Share,
    Text,
    item_where,
    known_keys,
    laid_over,
    read_toml,
    sha256_of,
    table,
)
from shotplan.files.words import nearest_name, printable, shown


@dataclass(frozen=True, kw_only=True)
class Lens:
    reach_m: NonNegative = 1.0


@dataclass(frozen=True, kw_only=True)
class Row:
    name: Text = "row"
    height_m: Positive | tuple[Positive, ...] | None = None
    pace_m_s: Finite | None = None
    mass_kg: Positive | None = None
    part: Share = 0.5
    toward_deg: Azimuth = 0.0
    takes: Count = 1
    free: Flag = False
    side: Literal["left", "right"] = "left"
    version: Literal[1] = 1
    aspect: Ratio = "16:9"
    on: Date | None = None
    at: Moment | None = None
    lens: Lens = Lens()
    lenses: tuple[Lens, ...] = ()
    spare: list[Lens] | None = None
    roles: Annotated[frozenset[Literal["a", "b"]], Field(min_length=1)] = frozenset(("a",))
    stands: Mapping[str, Text] | None = None
    from_: Finite = 0.0
    plain: int = 3

    def __post_init__(self) -> None:
        if self.plain == 13:
            raise ValueError("plain is 13; wanted any other number")


@dataclass(frozen=True, kw_only=True)
class Must:
    height_m: Positive


def read(schema: type[Any], **raw: object) -> tuple[Any, list[str]]:
    problems = Problems()
    made = table(schema, raw, "f.toml", problems)
    return made, [str(p) for p in problems.found]


def test_defaults_and_plain_values() -> None:
    made, said = read(Row, name="Sem", height_m=2, takes=3, free=True, side="right", plain=4)
    assert said == []
    assert made == Row(name="Sem", height_m=2.0, takes=3, free=True, side="right", plain=4)
    assert type(made.height_m) is float


def test_a_key_python_keeps_to_itself() -> None:
    made, said = read(Row, **{"from": 40})
    assert (made.from_, said) == (40.0, [])


@pytest.mark.parametrize(
    ("raw", "field", "value"),
    [
        # exact by definition: ISO 80000 / NIST SP 811 (in units.py)
        ({"height_ft": 10}, "height_m", 3.048),
        ({"height_ft": [10, 20]}, "height_m", (3.048, 6.096)),
        ({"pace_km_h": 36}, "pace_m_s", 10.0),
        ({"pace_mph": 10}, "pace_m_s", 4.4704),
        ({"pace_kn": 18}, "pace_m_s", 9.26),
        ({"mass_lb": 2}, "mass_kg", 0.90718474),
    ],
)
def test_other_units(raw: dict[str, object], field: str, value: object) -> None:
    made, said = read(Row, **raw)
    assert said == []
    assert getattr(made, field) == pytest.approx(value, rel=1e-12)


def test_other_units_at_every_depth() -> None:
    made, said = read(Row, lens={"reach_ft": 10}, lenses=[{"reach_ft": 20}, {"reach_m": 1}])
    assert said == []
    assert made.lens.reach_m == pytest.approx(3.048)
    assert [lens.reach_m for lens in made.lenses] == pytest.approx([6.096, 1.0])


def test_dates_and_containers() -> None:
    at = datetime(2026, 6, 20, 20, 10, tzinfo=timezone(timedelta(hours=1)))
    made, said = read(
        Row, on="2026-06-02", at=at, roles=["a", "b"], stands={"Sem": "lookout"}, spare=[{}]
    )
    assert said == []
    assert made.on == date(2026, 6, 2)
    assert made.at == at
    assert made.at.utcoffset() == timedelta(hours=1)
    assert made.roles == {"a", "b"}
    assert made.stands == {"Sem": "lookout"}
    assert made.spare == [Lens()]


def test_null_is_not_given() -> None:
    assert read(Row, height_m=None) == (Row(), [])
    made, said = read(Must, height_m=None)
    assert made is None
    assert said == [
        "f.toml: height_m is missing; wanted a number more than 0 and at most 1,000,000"
    ]


WRONG: list[tuple[dict[str, object], str]] = [
    (
        {"height_m": -2.0},
        "height_m: got -2.0; wanted a number more than 0 and at most 1,000,000 or",
    ),
    ({"height_m": "4"}, 'height_m: got "4"; wanted a number more than 0'),
    ({"height_m": True}, "height_m: got true; wanted a number"),
    ({"height_m": float("nan")}, "height_m: got nan; wanted a number"),
    ({"height_m": float("inf")}, "height_m: got inf; wanted a number"),
    ({"height_ft": -10}, "height_ft: got -10 (-3.048 m); wanted a number more than 0"),
    ({"height_m": [1, 2, 0]}, "height_m 3: got 0; wanted a number more than 0"),
    ({"height_m": [[1]]}, "height_m 1: got a list of 1; wanted a number"),
    ({"height_m": {}}, "height_m: got a table; wanted a number"),
    ({"pace_m_s": 10**400}, "pace_m_s: got a number beyond all measure; wanted a number"),
    ({"pace_kn": 10**400}, "pace_kn: got a number beyond all measure; wanted a number"),
    ({"part": 1.2}, "part: got 1.2; wanted a number at least 0 and at most 1"),
    ({"toward_deg": 361}, "toward_deg: got 361; wanted a number at least -360 and at most 360"),
    ({"takes": 0}, "takes: got 0; wanted a whole number at least 1"),
    ({"takes": 1.5}, "takes: got 1.5; wanted a whole number"),
    ({"free": "yes"}, 'free: got "yes"; wanted true or false'),
    ({"free": 1}, "free: got 1; wanted true or false"),
    ({"side": "rigth"}, 'side: got "rigth"; wanted "left" or "right"; did you mean "right"?'),
    ({"side": {"a": 1}}, 'side: got a table; wanted "left" or "right"'),
    ({"version": 2}, "version: got 2; wanted 1"),
    ({"aspect": "16x9"}, 'aspect: got "16x9"; wanted a ratio as text, for example "16:9"'),
    ({"name": ""}, 'name: got ""; wanted a text'),
    ({"name": "a\0\x1b[31m"}, r'name: got "a\x00\x1b[31m"; wanted a text'),
    ({"name": "\ud800"}, r'name: got "\ud800"; wanted a text'),
    ({"name": 7}, "name: got 7; wanted a text"),
    ({"on": "02.06.2026"}, 'on: got "02.06.2026"; wanted a date, for example 2026-06-20'),
    ({"on": "2026-02-30"}, 'on: got "2026-02-30"; wanted a date, for example 2026-06-20'),
    ({"on": datetime(2026, 6, 2, 8)}, "on: got 2026-06-02T08:00:00; wanted a date, for"),
    (
        {"at": datetime(2026, 6, 20, 20, 10)},
        "at: 2026-06-20T20:10:00 has no offset: write for example 2026-06-20T20:10:00+01:00",
    ),
    ({"at": "2026-06-20T20:10:00+01:00"}, 'at: got "2026-06-20T20:10:00+01:00"; wanted a date and'),
    ({"at": date(2026, 6, 20)}, "at: got 2026-06-20; wanted a date and time with offset"),
    ({"at": time(8, 0)}, "at: got 08:00:00; wanted a date and time with offset"),
    ({"lens": 3}, "lens: got 3; wanted a table"),
    ({"lens": {"reach_m": -1}}, "lens: reach_m: got -1; wanted a number at least 0"),
    ({"lens": {"raech_m": 1}}, 'lens: "raech_m" is not a key known here; did you mean "reach_m"?'),
    ({"lenses": {}}, "lenses: got a table; wanted a list, each a table"),
    ({"lenses": [{}, {"reach_ft": "x"}]}, 'lenses 2: reach_ft: got "x"; wanted a number'),
    ({"roles": []}, 'roles: got an empty list; wanted a list, each "a" or "b"'),
    ({"roles": ["a", "c"]}, 'roles 2: got "c"; wanted "a" or "b"'),
    ({"stands": {"Sem": 4}}, "stands: Sem: got 4; wanted a text"),
    ({"stands": 4}, "stands: got 4; wanted a table"),
    ({"height": 4}, '"height" is not a key known here; did you mean "height_m"?'),
    ({"zzzzzzz": 4}, '"zzzzzzz" is not a key known here; known are name, height_m, pace_m_s'),
    ({"from_": 4}, '"from_" is not a key known here; did you mean "from"?'),
    (
        {"height_m": 3, "height_ft": 10},
        "height_m and height_ft say the same thing: give only one",
    ),
    (
        {"lens": {"reach_ft": 3, "reach_m": 1}},
        "lens: reach_ft and reach_m say the same thing: give only one",
    ),
    ({"plain": 13}, "plain is 13; wanted any other number"),
    ({"plain": "5"}, 'plain: got "5"; wanted a whole number'),
]


@pytest.mark.parametrize(("raw", "message"), WRONG)
def test_what_is_wrong_is_said(raw: dict[str, object], message: str) -> None:
    made, said = read(Row, **raw)
    assert made is None
    assert len(said) == 1
    assert said[0].startswith("f.toml: " + message)


def test_everything_wrong_is_said_at_once() -> None:
    made, said = read(Row, height_m=-1, side="up", lens={"reach_m": -1}, nmae="x")
    assert made is None
    assert len(said) == 4


def test_keys_taken_out_before_are_suggested_and_not_accepted() -> None:
    problems = Problems()
    for key in ("wether", "weather", "qqqq"):
        assert table(Must, {"height_m": 1, key: 1}, "f", problems, beside=["weather"]) is None
    assert [p.what for p in problems.found] == [
        '"wether" is not a key known here; did you mean "weather"?',
        '"weather" is not a key known here; did you mean "weather"?',
        '"qqqq" is not a key known here; known are height_m, weather',
    ]


def test_the_same_problem_twice_still_makes_nothing() -> None:
    problems = Problems()
    for _ in range(2):
        assert table(Must, {"height_m": -1}, "f.toml", problems) is None
    assert len(problems) == 1


def test_messages_are_free_of_jargon() -> None:
    for raw, _ in WRONG:
        for text in read(Row, **raw)[1]:
            for word in ("Input should", "pydantic", "validation", "literal", "NoneType", "float"):
                assert word not in text


def test_items_are_named_by_number_and_name() -> None:
    assert item_where("site.toml: shot", 1, {"name": "rim\n"}) == r"site.toml: shot 2 (rim\n)"
    assert item_where("site.toml: shot", 0, 5) == "site.toml: shot 1"


def test_known_keys_with_other_units() -> None:
    assert known_keys(Must) == {"height_m", "height_ft"}


def test_laid_over_whatever_the_unit() -> None:
    base = {"mass_kg": 1.0, "span_ft": 1.0, "camera": {"fps": 30, "aspect": "16:9"}, "senses": [1]}
    own = {"mass_lb": 2.0, "span_m": 0.4, "camera": {"fps": 60}, "senses": []}
    assert laid_over(base, own) == {
        "mass_lb": 2.0,
        "span_m": 0.4,
        "camera": {"fps": 60, "aspect": "16:9"},
        "senses": [],
    }
    assert base["mass_kg"] == 1.0


VALUES = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.integers(min_value=10**300, max_value=10**400),
        st.floats(),
        st.text(st.characters(exclude_categories=()), max_size=20),
        st.datetimes(),
        st.dates(),
        st.times(),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.text(max_size=10) | st.sampled_from(["reach_m", "reach_ft"]), inner),
    ),
    max_leaves=8,
)


@given(st.dictionaries(st.sampled_from(sorted(known_keys(Row))) | st.text(max_size=8), VALUES))
def test_table_never_raises_and_makes_something_or_says_why(raw: dict[str, object]) -> None:
    problems = Problems()
    made = table(Row, raw, "f.toml", problems)
    assert (made is None) == (len(problems) > 0)
    for problem in problems.found:
        assert str(problem).isprintable()


def test_nearest_name() -> None:
    assert nearest_name("lokout", ["launch", "lookout"]) == '; did you mean "lookout"?'
    assert nearest_name("LAUNCH", ["launch", "lookout"]) == '; did you mean "launch"?'
    assert nearest_name("xyz", ["launch", "lookout"]) == ""
    assert nearest_name("", []) == ""
    assert nearest_name("rider-pilot", ["rider", "pilot"]) == ""
    assert nearest_name("rider-pilt", ["rider", "pilot"]) == '; did you mean "rider"?'


def test_shown_and_printable() -> None:
    assert shown("a\tb") == r'"a\tb"'
    assert shown("é—木") == '"é—木"'
    assert printable("\u202e") == r"\u202e"
    assert len(printable("x" * 500)) == 60
    assert shown(10**30) == "a number beyond all measure"
    assert shown(object()) == "a object"


def test_read_toml(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes("\ufeffa = 1\nb = '€'\n".encode())
    problems = Problems()
    assert read_toml(tmp_path / "a.toml", problems, "a.toml") == {"a": 1, "b": "€"}
    assert len(problems) == 0


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (None, "f.toml: there is no such file: "),
        (b"", "f.toml: the file is empty"),
        (b" \n", "f.toml: the file is empty"),
        (b"a = '\xff'", "f.toml: is not UTF-8 text (byte 5): save it as UTF-8"),
        (b"a = 1\na = 2\n", "f.toml: is not TOML: Cannot overwrite a value (at line 2, column 6)"),
        (b"a = \n", "f.toml: is not TOML: Invalid value (at line 1, column 5)"),
        (
            b"[shot]\na = 1\n[shot]\na = 2\n",
            "f.toml: is not TOML: Cannot declare ('shot',) twice (at line 3, column 6); shot is "
            "headed 2 times: where several are allowed write [[shot]], with two brackets, ",
        ),
        (
            b"[[shot]]\na = 1\n [ shot ]\na = 2\n",
            "f.toml: is not TOML: Cannot declare ('shot',) twice (at line 3, column 9); shot is ",
        ),
        (b"a = 1" + b"0" * 5000, "f.toml: is not TOML: Exceeds the limit"),
        (b"a = " + b"[" * 100_000, "f.toml: is nested too deeply"),
        (b"#" * 5_000_001, "f.toml: got a file of 5.0 MB; wanted at most 5 MB"),
    ],
    ids=[
        "missing",
        "empty",
        "blank",
        "bytes",
        "twice",
        "syntax",
        "headed",
        "mixed",
        "digits",
        "deep",
        "large",
    ],
)
def test_toml_that_cannot_be_read(tmp_path: Path, data: bytes | None, message: str) -> None:
    if data is not None:
        (tmp_path / "f.toml").write_bytes(data)
    problems = Problems()
    assert read_toml(tmp_path / "f.toml", problems, "f.toml") is None
    assert len(problems) == 1
    assert str(problems.found[0]).startswith(message)


def test_a_folder_or_a_name_no_file_can_have(tmp_path: Path) -> None:
    problems = Problems()
    assert read_toml(tmp_path, problems, "f") is None
    assert read_toml(tmp_path / "a\0b", problems, "g") is None
    assert [p.where for p in problems.found] == ["f", "g"]
    assert problems.found[0].what.startswith("is not a file")


def test_sha256(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"abc")
    # FIPS 180-2, appendix B.1 (from memory)
    wanted = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256_of(tmp_path / "a") == wanted
