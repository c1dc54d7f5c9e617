"""Settings told to people: what each is, its value, and why it is so."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any


def explained(said: Any, reasons: Mapping[str, tuple[str, str, str]]) -> tuple[str, ...]:
    """`speed_sigma = 0.08 of the speed: spread of … (source)`, a line a field of a dataclass;
    `reasons` of each its unit, what it is, and why."""
    lines = []
    for field in fields(said):
        unit, what, reason = reasons[field.name]
        value = f"{written(getattr(said, field.name))}{f' {unit}' if unit else ''}"
        lines.append(f"{field.name} = {value}: {what} ({reason})")
    return tuple(lines)


def written(value: Any) -> str:
    """A text, a number, or several with commas between."""
    if isinstance(value, tuple):
        return ", ".join(written(v) for v in value)
    return value if isinstance(value, str) else f"{value:g}"
