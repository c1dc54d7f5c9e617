"""Settings told to people: what each is, its value, and why it is so."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from typing import Any, Literal, NamedTuple, get_args

from shotplan.kernels.motion.setpoints import HeightOver

UNITS = {"_m_s": " m/s", "_m": " m"}
Way = Literal["out", "wide", "up", "fast"]
WAYS: tuple[Way, ...] = get_args(Way)


class Setting(NamedTuple):
    """A setting of a style: its TOML `key`, its `label` on a card, its `value` (None not given).

    `more`: where a larger number takes the aircraft: farther `out` from the rider, `wide` of its
    centre, `up`, or on as `fast`; None of a word. `after` it in few words: `6 m up`.
    """

    key: str
    label: str
    value: float | str | None
    more: Way | None = None
    after: str = ""

    @classmethod
    def height(cls, height_m: float, over: HeightOver, centre: str = "rider") -> Setting:
        """`height_m` above what `over` names, where "rider" means what is at the `centre`."""
        if over == "rider":
            return cls("height_m", f"over {centre}", height_m, "up", " up")
        label = f"over {over.removeprefix('higher-')}"
        return cls("height_m", label, height_m, "up", f" up over {over}")

    @property
    def number(self) -> float:
        """The value, NaN for a word and what is not given."""
        return self.value if isinstance(self.value, int | float) else math.nan

    @property
    def told(self) -> str:
        """`12 m`, `left`."""
        unit = next((u for tail, u in UNITS.items() if self.key.endswith(tail)), "")
        return f"{written(self.value)}{unit}"


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
