"""What was got and what is wanted, in plain words. Text from files is escaped here."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import is_dataclass
from datetime import date, datetime, time
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

LONGEST = 60
MOMENT_EXAMPLE = "2026-06-20T20:10:00+01:00"
_HEADER = re.compile(r"^[ \t]*(\[\[?)[ \t]*([A-Za-z0-9_-]+)[ \t]*\]", re.MULTILINE)
BOUNDS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}


def printable(text: str) -> str:
    """`text` for one line of a terminal: what cannot be printed as its escape, cut at 60."""
    cut = text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
    if cut.isprintable():
        return cut
    return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in cut)


def one_line(text: str) -> str:
    """What a library says about a file, on one printable line."""
    return "".join(c if c.isprintable() else " " for c in text)[:200]


def shown(value: object) -> str:
    """A value from a file as a message names it."""
    if isinstance(value, str):
        return f'"{printable(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "null"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "an empty list" if not value else f"a list of {len(value)}"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**20 else "a number beyond all measure"
    return repr(value) if isinstance(value, float) else f"a {type(value).__name__}"


def nearest_name(got: str, known: Iterable[str]) -> str:
    """`; did you mean "lookout"?`, or "" where nothing is near, or where it joins several of them
    ("rider-pilot")."""
    by_lower = {k.casefold(): k for k in known}
    if len(by_lower.keys() & set(re.split(r"[\W_]+", got[:LONGEST].casefold()))) > 1:
        return ""
    found = difflib.get_close_matches(got[:LONGEST].casefold(), by_lower, n=1, cutoff=0.6)
    return f'; did you mean "{printable(by_lower[found[0]])}"?' if found else ""


def headed_twice(toml: str) -> str:
    """What to do where a table of a TOML text is headed more than once, and not as one of a list;
    "" where none is."""
    heads = _HEADER.findall(toml)
    for name in dict.fromkeys(name for _, name in heads):
        opened = [bracket for bracket, other in heads if other == name]
        if "[" in opened and len(opened) > 1:
            return (
                f"; {name} is headed {len(opened)} times: where several are allowed write "
                f"[[{name}]], with two brackets, above each; else keep one [{name}]"
            )
    return ""


def listed(names: Iterable[str], last: str = "or") -> str:
    """`"a", "b" or "c"`, each as `shown`."""
    quoted = [shown(n) for n in names]
    if len(quoted) < 2:
        return "".join(quoted)
    return f"{', '.join(quoted[:-1])} {last} {quoted[-1]}"


def arms(hint: Any) -> tuple[Any, ...]:
    """The alternatives of a type, without None."""
    if get_origin(hint) in (Union, UnionType):
        return tuple(b for a in get_args(hint) for b in arms(a))
    return () if hint is NoneType else (hint,)


def core(arm: Any) -> Any:
    """A type without what is annotated to it."""
    return get_args(arm)[0] if get_origin(arm) is Annotated else arm


def wanted(hint: Any) -> str:
    """What a type wants: `a number more than 0`; its `Field(description=...)` where it has one."""
    return " or ".join(dict.fromkeys(_wanted(arm) for arm in arms(hint)))


def _wanted(arm: Any) -> str:
    notes = get_args(arm)[1:] if get_origin(arm) is Annotated else ()
    said = [n.description for n in notes if getattr(n, "description", None)]
    if said:
        return str(said[-1])
    kind = core(arm)
    origin = get_origin(kind)
    if origin is Literal:
        return listed(get_args(kind))
    if origin in (list, tuple, frozenset):
        return f"a list, each {wanted(get_args(kind)[0])}"
    if is_dataclass(kind) or origin is not None:
        return "a table"
    return _SCALARS.get(kind, "another value") + _bounds(notes)


_SCALARS: dict[Any, str] = {
    float: "a number",
    int: "a whole number",
    str: "a text",
    bool: "true or false",
    date: "a date, for example 2026-06-20",
    datetime: f"a date and time, for example {MOMENT_EXAMPLE}",
}


def _bounds(notes: tuple[Any, ...]) -> str:
    """` at least 0 and at most 1` from the annotations of a number."""
    constraints = [m for n in notes for m in getattr(n, "metadata", ())]
    parts = [
        f"{word} {_plain(getattr(c, name))}"
        for c in constraints
        for name, word in BOUNDS.items()
        if isinstance(getattr(c, name, None), int | float)
    ]
    return " " + " and ".join(parts) if parts else ""


def _plain(number: float) -> str:
    """0.1, 86400, 1,000,000: never 1e+06."""
    return f"{number:g}" if abs(number) < 1e5 else f"{number:,.0f}"
