"""Keys added to a TOML file that somebody writes by hand: every other character stays."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from shotplan.files.toml_out import key, value

_HEADER = re.compile(r"[ \t]*\[")
_NO_KEY = re.compile(r"[ \t]*(#.*)?\r?\n?$")


def with_keys(text: str, keys: Mapping[str, Any], note: str = "") -> str:
    """The file with `keys`, none of which it has, after the last key outside every table; `note`
    stands behind each as a comment. A byte order mark and the line ends stay as they are."""
    if not keys:
        return text
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines(keepends=True)
    at = _last_key(lines)
    said = f" # {note}" if note else ""
    new = [f"{key(k)} = {value(v)}{said}{end}" for k, v in keys.items()]
    before = lines[:at]
    if before and not before[-1].endswith(("\n", "\r")):
        before[-1] += end
    made = "".join([*before, *new, *lines[at:]])
    if _read(made) != {**_read(text), **keys}:
        raise AssertionError("site.toml would not say what it said with some keys more")
    return made


def _read(text: str) -> dict[str, Any]:
    return tomllib.loads(text.removeprefix("\ufeff"))


def _last_key(lines: list[str]) -> int:
    """The line after the last key that belongs to no table. What looks like a header inside a long
    text or a list is none: up to a true one the file reads alone."""
    first = next((k for k, line in enumerate(lines) if _HEADER.match(line) and _alone(lines[:k])),
                 len(lines))  # fmt: skip
    while first and _NO_KEY.match(lines[first - 1]):
        first -= 1
    return first


def _alone(lines: list[str]) -> bool:
    try:
        _read("".join(lines))
    except tomllib.TOMLDecodeError:
        return False
    return True
