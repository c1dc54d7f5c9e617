"""A TOML text changed where something changed: comments, order and spelling stay."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Comment, Table, Whitespace

from shotplan.errors import Problems
from shotplan.files.spelled import in_own_units, lay

WAS = "_was"  # of a table in a list: its number in the old text, from 0; without it: a new one


def plain(text: str, name: str) -> list[dict[str, Any]]:
    """The tables of a list (`[[shot]]`), each in own units and with its number."""
    found = tomllib.loads(text).get(name, [])
    return [{**in_own_units(one), WAS: k} for k, one in enumerate(found)]


def edited(
    text: str,
    lists: Mapping[str, Sequence[Mapping[str, Any]]],
    tables: Mapping[str, Mapping[str, Any]],
    where: str,
    problems: Problems,
) -> str | None:
    """The text in which `lists` of tables and whole `tables` say what they are given as; None where
    that cannot be written without touching more (problems say why)."""
    try:
        document = tomlkit.parse(text)
        for name, wanted in lists.items():
            _edit_list(document, name, wanted)
        for name, one in tables.items():
            _edit_table(document, name, one)
        made = tomlkit.dumps(document)
        sound = _says(made, text, lists, tables)
    except (TOMLKitError, TypeError, ValueError, IndexError, KeyError):
        sound = False
    if sound:
        return made
    problems.add(
        where,
        "these changes cannot be written without touching more of the file; give each shot a "
        "[[shot]] and each person a [[crew]] of their own, and draw again",
    )
    return None


def _edit_table(document: tomlkit.TOMLDocument, name: str, wanted: Mapping[str, Any]) -> None:
    if name in document:
        _lay(document[name], {k: _item(v) for k, v in wanted.items()})
    elif wanted:
        document.append(name, _table(wanted))


def _edit_list(
    document: tomlkit.TOMLDocument, name: str, wanted: Sequence[Mapping[str, Any]]
) -> None:
    """Existing tables first, in their order; new ones after them."""
    numbers = [one[WAS] for one in wanted if one.get(WAS) is not None]
    fresh = [one for one in wanted if one.get(WAS) is None]
    if name not in document:
        if not fresh:
            return
        document.append(name, tomlkit.aot())
    held = document[name]
    if not isinstance(held, AoT):
        raise TypeError(f"{name} is no list of tables")
    for one in wanted:
        if one.get(WAS) is not None:
            _lay(held[one[WAS]], _items(one))
    for number in reversed(range(len(held))):
        if number not in numbers:
            _take_out(document, name, held, number)
    for one in fresh:
        _part(document, held)
        held.append(_table(_items(one)))
    if not len(held):
        del document[name]


def _lay(table: Any, wanted: Mapping[str, Any]) -> None:
    """New keys stand after the last one, before what is said of the next table."""
    last = _ending(table)
    lay(table, wanted)
    table.value.body.extend(last)


def _ending(table: Any) -> list[Any]:
    """The comments and blank lines after its last key, taken off."""
    body, last = table.value.body, []
    while body and isinstance(body[-1][1], Comment | Whitespace):
        last.append(body.pop())
    return last[::-1]


def _items(one: Mapping[str, Any]) -> dict[str, Any]:
    return {key: _item(value) for key, value in one.items() if key != WAS}


def _take_out(document: tomlkit.TOMLDocument, name: str, held: AoT, number: int) -> None:
    """Without a table; comments at its end belong to the next one and stay."""
    last = _ending(held[number])
    before = held[number - 1] if number else _table_before(document, name)
    if before is not None and any(isinstance(item, Comment) for _, item in last):
        before.value.body.extend(last)
    del held[number]


def _table_before(document: tomlkit.TOMLDocument, name: str) -> Table | None:
    """The last table that stands before the list."""
    found = None
    for key, item in document.body:
        if key is not None and key.key == name:
            return found
        if isinstance(item, Table):
            found = item
        elif isinstance(item, AoT):
            found = item[-1]
    return found


def _part(document: tomlkit.TOMLDocument, held: AoT) -> None:
    """A blank line before a new table."""
    if len(held) and not tomlkit.dumps(document).endswith("\n\n"):
        held[-1].add(tomlkit.nl())


def _table(says: Mapping[str, Any]) -> Table:
    made = tomlkit.table()
    for key, value in says.items():
        made.add(key, _item(value))
    return made


def _item(value: Any) -> Any:
    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        inline.update(value)
        return inline
    return value


def _says(
    made: str,
    text: str,
    lists: Mapping[str, Sequence[Mapping[str, Any]]],
    tables: Mapping[str, Mapping[str, Any]],
) -> bool:
    """Whether the new text says what was wanted, and of all else what the old one did."""
    new, old = tomllib.loads(made), tomllib.loads(text)
    for name, wanted in lists.items():
        kept = [one for one in wanted if one.get(WAS) is not None]
        kept.sort(key=lambda one: int(one[WAS]))
        order = [*kept, *(one for one in wanted if one.get(WAS) is None)]
        got = [in_own_units(one) for one in new.pop(name, [])]
        old.pop(name, None)
        if not _alike(got, [{k: v for k, v in one.items() if k != WAS} for one in order]):
            return False
    for name, one in tables.items():
        old.pop(name, None)
        if not _alike(in_own_units(new.pop(name, {})), dict(one)):
            return False
    return new == old


def _alike(got: Any, wanted: Any) -> bool:
    """Equal, numbers to what a rounding in feet leaves."""
    if isinstance(got, Mapping) and isinstance(wanted, Mapping):
        return got.keys() == wanted.keys() and all(_alike(v, wanted[k]) for k, v in got.items())
    if isinstance(got, list) and isinstance(wanted, list | tuple):
        return len(got) == len(wanted) and all(map(_alike, got, wanted))
    if isinstance(got, float | int) and isinstance(wanted, float | int):
        return abs(got - wanted) <= 0.01
    return bool(got == wanted)
