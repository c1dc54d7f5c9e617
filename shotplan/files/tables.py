"""TOML and other plain tables into frozen dataclasses: every problem in plain words, in one go."""

from __future__ import annotations

import keyword
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, TypeVar, get_args, get_origin, get_type_hints

from pydantic import ValidationError as Unfit

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, read_text, sha256_of
from shotplan.files.kinds import (
    LISTS,
    Acute,
    Azimuth,
    Count,
    Date,
    Elevation,
    Finite,
    Flag,
    Moment,
    NonNegative,
    Opening,
    Positive,
    RasterName,
    Ratio,
    Share,
    Text,
    Whole,
    checker,
    checkers,
    several,
)
from shotplan.files.words import (
    arms,
    core,
    headed_twice,
    nearest_name,
    one_line,
    printable,
    shown,
    wanted,
)
from shotplan.units import SUFFIXES, other_spellings

__all__ = [
    "Acute",
    "Azimuth",
    "Count",
    "Date",
    "Elevation",
    "Finite",
    "Flag",
    "Moment",
    "NonNegative",
    "Opening",
    "Positive",
    "RasterName",
    "Ratio",
    "Share",
    "Text",
    "Whole",
    "item_where",
    "known_keys",
    "laid_over",
    "nearest_name",
    "read_toml",
    "several",
    "sha256_of",
    "table",
]

T = TypeVar("T")
LARGEST_TOML = 5 * MEGABYTE
MAPPINGS = (dict, Mapping)
UNIT_NAMES = {"_m_s": "m/s", "_m": "m", "_kg": "kg"}


def read_toml(path: Path, problems: Problems, where: str) -> dict[str, object] | None:
    """A TOML file as a plain mapping; None where it cannot be read (problems say why)."""
    text = read_text(path, LARGEST_TOML, where, problems)
    if text is None:
        return None
    try:
        return tomllib.loads(text)
    except ValueError as error:  # syntax, the same key twice, a number of 5000 digits
        problems.add(where, f"is not TOML: {one_line(str(error))}{headed_twice(text)}")
    except RecursionError:
        problems.add(where, "is nested too deeply")
    return None


class _Key(NamedTuple):
    """A key of a table: the field it fills, its type, whether it must be given."""

    name: str
    hint: Any
    required: bool


class _Unit(NamedTuple):
    """By what to multiply to get the key's own unit, and that unit's name."""

    factor: float = 1.0
    name: str = ""


@cache
def _keys(schema: Any) -> dict[str, _Key]:
    hints = get_type_hints(schema, include_extras=True)
    return {
        _key(f.name): _Key(
            f.name, hints[f.name], f.default is MISSING and f.default_factory is MISSING
        )
        for f in fields(schema)
        if f.init
    }


def _key(name: str) -> str:
    """The key of a field: `from_` is `from` (Python keeps such words to itself)."""
    return name[:-1] if name.endswith("_") and keyword.iskeyword(name[:-1]) else name


@cache
def _spellings(schema: Any) -> dict[str, tuple[str, _Unit]]:
    """Every key a table may be given under -> its own key and the unit to turn."""
    keys = _keys(schema)
    found = {key: (key, _Unit()) for key in keys}
    for key in keys:
        for other, factor in other_spellings(key).items():
            name = next(UNIT_NAMES[s] for s in UNIT_NAMES if key.endswith(s))
            found.setdefault(other, (key, _Unit(factor, name)))
    return found


def known_keys(schema: Any) -> frozenset[str]:
    """Every key a table of this schema may have, other units included."""
    return frozenset(_spellings(schema))


def own_key(key: str) -> str:
    """`height_ft` -> `height_m`; a key that is no other spelling as it is."""
    for own, others in SUFFIXES.items():
        for other in others:
            if key.endswith(other):
                return key[: -len(other)] + own
    return key


def laid_over(base: Mapping[str, object], raw: Mapping[str, object]) -> dict[str, object]:
    """`base` with the keys of `raw` laid over it, in whatever unit either is; nested tables
    likewise, lists as a whole."""
    replaced = {own_key(k) for k in raw}
    merged = {k: v for k, v in base.items() if own_key(k) not in replaced}
    for key, value in raw.items():
        old = base.get(key)
        both = isinstance(old, Mapping) and isinstance(value, Mapping)
        merged[key] = laid_over(old, value) if both else value  # type: ignore[arg-type]
    return merged


def item_where(where: str, index: int, raw: object) -> str:
    """`site.toml: shot 2 (round the marker)` for the item `index` (from 0) of a list."""
    known = raw if isinstance(raw, Mapping) else {}
    name = known.get("name", known.get("id"))
    return f"{where} {index + 1}" + (f" ({printable(name)})" if isinstance(name, str) else "")


def table(
    schema: type[T],
    raw: Mapping[str, object],
    where: str,
    problems: Problems,
    beside: Iterable[str] = (),
) -> T | None:
    """`raw` as an instance of the frozen dataclass `schema`; None where anything is wrong.

    Fields may be the types above, Literal, other dataclasses, `list`, `frozenset`, `tuple[X, ...]`
    and `Mapping[str, X]` of these, and unions; field `from_` is key `from`. Any length, speed or
    mass may come in another unit (`height_ft`), at every depth. Null counts as not given. What
    the dataclass itself refuses with a ValueError becomes a problem as well. `beside` are keys the
    caller has taken out before: suggested for a misspelt key, not accepted.
    """
    found = Problems()
    values = _fields(schema, raw, where, found, beside)
    made = None
    if not found.found:
        try:
            made = schema(**values)
        except ValueError as error:
            found.add(where, str(error))
    for problem in found.found:
        problems.add(problem.where, problem.what)
    return made


def _fields(
    schema: Any, raw: Mapping[str, object], where: str, found: Problems, beside: Iterable[str]
) -> dict[str, object]:
    """The values of a table's fields; what is unknown, missing, twice or unfit goes to `found`."""
    keys, spellings = _keys(schema), _spellings(schema)
    given_as: dict[str, str] = {}
    values: dict[str, object] = {}
    for given, value in raw.items():
        if given not in spellings:
            name = printable(str(given))
            near = nearest_name(str(given), (*spellings, *beside))
            near = near or f"; known are {', '.join((*keys, *beside))}"
            found.add(where, f'"{name}" is not a key known here{near}')
            continue
        key, unit = spellings[given]
        if value is None:
            continue
        if key in given_as:
            found.add(where, f"{given_as[key]} and {given} say the same thing: give only one")
            continue
        given_as[key] = given
        values[keys[key].name] = _value(keys[key].hint, value, f"{where}: {given}", found, unit)
    for key, (_, hint, required) in keys.items():
        if required and key not in given_as:
            found.add(where, f"{key} is missing; wanted {wanted(hint)}")
    return values


def _value(hint: Any, value: object, where: str, found: Problems, unit: _Unit) -> object:
    """`value` as `hint` wants it; None and a problem where it does not fit."""
    for arm in arms(hint) if isinstance(value, Mapping | list | tuple) else ():
        kind = core(arm)
        origin = get_origin(kind)
        if isinstance(value, Mapping) and is_dataclass(kind):
            return table(kind, value, where, found)  # type: ignore[arg-type]
        if isinstance(value, Mapping) and origin in MAPPINGS:
            of = get_args(kind)[1]
            return {
                k: _value(of, v, f"{where}: {printable(str(k))}", found, unit)
                for k, v in value.items()
            }
        if isinstance(value, list | tuple) and origin in LISTS:
            return _items(arm, value, where, found, unit)
    number = _scaled(value, unit.factor)
    problem = ""
    for fits in checkers(hint):
        try:
            return fits.validate_python(number)
        except Unfit as error:
            problem = problem or error.errors(include_url=False)[0]["type"]
    if problem == "timezone_aware" and isinstance(value, datetime):
        at = value.isoformat()
        found.add(where, f"{at} has no offset: write for example {at}+01:00")
        return None
    turned = f" ({number:g} {unit.name})" if unit.name and isinstance(number, float) else ""
    options = [o for a in arms(hint) for o in get_args(core(a)) if isinstance(o, str)]
    near = nearest_name(value, options) if isinstance(value, str) else ""
    near = near or (": check the unit" if problem == "less_than_equal" else "")
    found.add(where, f"got {shown(value)}{turned}; wanted {wanted(hint)}{near}")
    return None


def _items(
    arm: Any, value: list[object] | tuple[object, ...], where: str, found: Problems, unit: _Unit
) -> object:
    """A list as the container `arm` wants, item by item, then as a whole (its length)."""
    hint, before = get_args(core(arm))[0], len(found)
    items = [_value(hint, v, item_where(where, i, v), found, unit) for i, v in enumerate(value)]
    if len(found) > before:
        return None
    try:
        return checker(arm).validate_python(get_origin(core(arm))(items))
    except Unfit:
        found.add(where, f"got {shown(value)}; wanted {wanted(arm)}")
        return None


def _scaled(value: object, factor: float) -> object:
    """A number times `factor`; anything else as it is."""
    if factor == 1.0 or isinstance(value, bool) or not isinstance(value, int | float):
        return value
    try:
        return float(value) * factor
    except OverflowError:
        return value
