"""Tables as people export them: whatever separates, whatever the columns are called."""

from __future__ import annotations

import csv
import json
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, NamedTuple

from shotplan.errors import Problems
from shotplan.files.words import one_line, printable, shown

MOST_COLUMNS = 500
DELIMITERS = "\t;,|"
_UNIT = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]")
_MICRO_S, _MILLI_S = 1e14, 1e11  # larger than any seconds since 1970 that are meant


class Columns(NamedTuple):
    """`heads` as they are written; `cells`, one tuple of text a column."""

    heads: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]

    def find(self, names: Iterable[str]) -> int | None:
        """The column with the first of `names` any is called: small letters and digits alone
        count, and a unit in brackets or after the name does not."""
        for name in names:
            for index, head in enumerate(self.heads):
                if folded(_UNIT.sub("", head)) == name:
                    return index
        return None


def folded(text: str) -> str:
    """`Wind Speed_10m` -> `windspeed10m`: small letters and digits alone."""
    flat = unicodedata.normalize("NFKD", text).casefold()
    return "".join(c for c in flat if c.isalnum())


def unit_in(head: str) -> str:
    """What stands in brackets in a head, `` where nothing does."""
    found = _UNIT.search(head)
    return found[1] if found else ""


def table_of(text: str, where: str, problems: Problems) -> Columns | None:
    """Separated text with the columns' names in its first line; None where it is none."""
    lines = text.splitlines()
    lines = [line for line in lines if line.strip() and not line.startswith("#")]
    if re.match(r"\s*<", text):
        problems.add(where, "begins with <: a page or another format, not a table of columns")
        return None
    first = lines[0] if lines else ""
    delimiter = max(DELIMITERS, key=first.count)
    if delimiter not in first:
        problems.add(where, f"got {shown(first)}; wanted a first line with the columns' names")
        return None
    try:
        rows = list(csv.reader(lines, delimiter=delimiter, strict=True))
    except csv.Error as error:
        problems.add(where, f"is not a table: {one_line(str(error))}")
        return None
    heads, *body = rows
    if all(is_number(h) for h in heads) or len(heads) > MOST_COLUMNS:
        problems.add(where, "has no names over its columns: wanted a first line with them")
        return None
    odd = next((k for k, row in enumerate(body) if len(row) != len(heads)), None)
    if odd is not None:
        problems.add(f"{where}: row {odd + 1}", f"got {len(body[odd])} cells; wanted {len(heads)}")
        return None
    if delimiter != ",":
        body = [[_point(cell) for cell in row] for row in body]
    cells = tuple(tuple(c.strip() for c in col) for col in zip(*body, strict=True))
    return Columns(tuple(h.strip() for h in heads), cells or ((),) * len(heads))


def _point(cell: str) -> str:
    """A decimal comma as a point."""
    return cell.replace(",", ".") if re.fullmatch(r"\s*[-+]?\d+,\d+\s*", cell) else cell


def json_table(text: str, where: str, problems: Problems) -> Columns | None:
    """JSON as a table: a list of objects, or an object of lists of one length, found at the top or
    one level down; a unit beside it (`hourly_units`) is put behind the name in brackets."""
    try:
        said = json.loads(text)
    except (ValueError, RecursionError) as error:
        problems.add(where, f"is not JSON: {one_line(str(error))}")
        return None
    tops: list[tuple[str, Any]] = [("", said)]
    tops += list(said.items()) if isinstance(said, Mapping) else []
    for name, inner in tops:
        found = _columns(inner)
        if found is not None:
            units = said.get(f"{name}_units") if isinstance(said, Mapping) else None
            heads = [_with_unit(h, units) for h in found]
            return Columns(tuple(heads), tuple(tuple(_text(v) for v in c) for c in found.values()))
    problems.add(where, "holds no table: wanted a list of objects, or an object of lists")
    return None


def _columns(said: Any) -> dict[str, Sequence[Any]] | None:
    if isinstance(said, list) and said and all(isinstance(row, Mapping) for row in said):
        heads = dict.fromkeys(str(k) for row in said for k in row)
        return {h: [row.get(h) for row in said] for h in heads} if len(heads) > 1 else None
    if isinstance(said, Mapping) and len(said) > 1:
        lists: dict[str, Sequence[Any]]
        lists = {str(k): v for k, v in said.items() if isinstance(v, list)}
        return lists if len(lists) > 1 and len({len(v) for v in lists.values()}) == 1 else None
    return None


def _with_unit(head: str, units: Any) -> str:
    unit = units.get(head) if isinstance(units, Mapping) else None
    return f"{head} [{unit}]" if isinstance(unit, str) else head


def _text(value: Any) -> str:
    return "" if value is None or isinstance(value, list | dict | bool) else str(value)


def is_number(text: str) -> bool:
    """Whether text is a decimal number."""
    try:
        float(text)
    except ValueError:
        return False
    return True


def moment_of(text: str) -> datetime | None:
    """A time: ISO 8601, or seconds, milliseconds or microseconds since 1970 (in UTC), by their
    size. None where it is neither; without a zone where none is written."""
    try:
        if not is_number(text):
            return datetime.fromisoformat(text.replace("/", "-"))
        since = float(text)
        size = 1e6 if since >= _MICRO_S else 1e3 if since >= _MILLI_S else 1.0
        return datetime.fromtimestamp(since / size, UTC)
    except (ValueError, OverflowError, OSError):
        return None


def named(heads: Iterable[str]) -> str:
    """The columns a file has, for a message."""
    listed = [printable(h) for h in heads]
    return ", ".join(listed[:12]) + (" …" if len(listed) > 12 else "")
