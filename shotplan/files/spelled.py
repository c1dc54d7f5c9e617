"""Keys in the unit a person wrote them in, and in the one they are reckoned in.

A table that is changed elsewhere comes back in own units (`height_m`); what did not change keeps
its spelling and its number (`height_ft = 40`), what did keeps its spelling.
"""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping
from typing import Any

from shotplan.units import SUFFIXES


def own_key(key: str) -> tuple[str, float]:
    """The key it is reckoned as and the factor to its unit: `height_ft` -> `height_m`, 0.3048."""
    for own, others in SUFFIXES.items():
        for other, factor in others.items():
            if key.endswith(other):
                return key.removesuffix(other) + own, factor
    return key, 1.0


def in_own_units(table: Mapping[str, Any]) -> dict[str, Any]:
    """The same table with every key in its own unit."""
    found = {}
    for key, value in table.items():
        own, factor = own_key(key)
        found[own] = value if factor == 1.0 else _times(value, factor)
    return found


def lay(table: MutableMapping[str, Any], wanted: Mapping[str, Any]) -> None:
    """Change `table` in place until it says what `wanted` (own units) does: keys that say so
    already are not touched, new ones come last."""
    now, spelled = in_own_units(table), {own_key(key)[0]: key for key in table}
    for own, key in spelled.items():
        if own not in wanted:
            del table[key]
        elif wanted[own] != now[own]:
            factor = own_key(key)[1]
            value = wanted[own] if factor == 1.0 else _rounded(_times(wanted[own], 1.0 / factor))
            table[key] = _kind(value, table[key])
    for key, value in wanted.items():
        if key not in spelled:
            table[key] = value


def _times(value: Any, factor: float) -> Any:
    if isinstance(value, list | tuple):
        return [_times(one, factor) for one in value]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return value * factor if number else value


def _rounded(value: Any) -> Any:
    if isinstance(value, list):
        return [_rounded(one) for one in value]
    return round(value, 2) if isinstance(value, float) else value


def _kind(value: Any, old: Any) -> Any:
    """A whole number where a person writes decimals gets one."""
    if isinstance(old, float) and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    return value
