from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.files.spreadsheet import guarded


def table(*rows: tuple[str, str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([("name", "x_m"), *rows])
    return out.getvalue()


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.mark.parametrize(
    "name",
    ["=HYPERLINK(\"http://x\")", "+1", "-2+3", "@SUM(A1)", "\t=1", "\n=1"],
)  # fmt: skip
def test_what_begins_a_formula_is_told_to_be_text(name: str) -> None:
    assert read(guarded(table((name, "-1.5")), ["name"])) == [{"name": f"'{name}", "x_m": "-1.5"}]


def test_a_semicolon_parts_no_cells() -> None:
    line = guarded(table(("a;=1+1", "2")), ["name"]).splitlines()[1]
    assert next(csv.reader([line], delimiter=";")) == ["a;=1+1,2"]


def test_numbers_empty_cells_and_long_names_stay() -> None:
    long = "n" * 200_000
    text = guarded(table(("", ""), (long, "-0.001")), ["name"])
    assert text.splitlines()[:2] == ["name,x_m", ","]
    assert read(text)[1] == {"name": long, "x_m": "-0.001"}


@given(st.text(st.characters(codec="utf-8")))
def test_names_come_back(name: str) -> None:
    (row,) = read(guarded(table((name, "1")), ["name"]))
    told = name.replace("\r", "·")
    assert row["name"] in {told, f"'{told}"}
    assert not row["name"].startswith(("=", "+", "-", "@", "\t", "\n"))
