"""Values as TOML, on one line each. What comes from files or people goes in escaped."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}


def value(given: Any) -> str:
    """A text, number, list or table as TOML, on one line."""
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, str):
        return _string(given)
    if isinstance(given, Mapping):
        return f"{{ {', '.join(f'{key(k)} = {value(v)}' for k, v in given.items())} }}"
    if isinstance(given, Sequence):
        return f"[{', '.join(value(v) for v in given)}]"
    return repr(given)


def key(name: str) -> str:
    """A key, quoted where it must be."""
    return name if _BARE.fullmatch(name) else _string(name)


def _string(said: str) -> str:
    """Quoted; what could steer a terminal or end a line as a code point."""
    return f'"{"".join(_escaped(c) for c in said)}"'


def _escaped(c: str) -> str:
    if c in '"\\':
        return f"\\{c}"
    if unicodedata.category(c) in _STEERING:
        return f"\\u{ord(c):04X}" if ord(c) < 0x10000 else f"\\U{ord(c):08X}"
    return c
