"""What a key of a table may hold: types with their limits, strict (no text for a number).

Numbers are finite; degrees are as files have them. `wanted` of `files.words` puts them in words.
"""

from __future__ import annotations

from dataclasses import is_dataclass
from datetime import date
from typing import Annotated, Any, get_origin

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BeforeValidator,
    ConfigDict,
    Field,
    TypeAdapter,
)

from shotplan.files.words import MOMENT_EXAMPLE, arms, core

LISTS = (list, tuple, frozenset)


def _date(value: object) -> object:
    """A date written as text (JSON has no dates) as a date."""
    if not isinstance(value, str):
        return value
    try:
        return date.fromisoformat(value) if len(value) == len("2026-06-20") else value
    except ValueError:
        return value


def several(words: str) -> Any:
    """For a list of at least one, what it is said to be."""
    return Field(min_length=1, description=words)


def _no_number(text: str) -> str:
    """The name of a file; refused where it is a bare number, as for `terrain = "40"`."""
    try:
        float(text)
    except ValueError:
        return text
    raise ValueError(text)


def between(low: float, high: float) -> Any:
    """For a number, both ends included; every number of a file has such bounds, so that a slip of
    the keyboard is a message and not a plan that never ends. They are far out on purpose."""
    return Field(strict=True, allow_inf_nan=False, ge=low, le=high)


def counted(most: int) -> Any:
    """For a number of things, at least one."""
    return Field(strict=True, ge=1, le=most)


def _apart(low: float) -> AfterValidator:
    def checked(value: float) -> float:
        if 0.0 < value < low:
            raise ValueError(value)
        return value

    return AfterValidator(checked)


Finite = Annotated[float, between(-1e6, 1e6)]
Positive = Annotated[float, Field(strict=True, allow_inf_nan=False, gt=0, le=1e6)]
NonNegative = Annotated[float, between(0, 1e6)]
Share = Annotated[float, between(0, 1)]
Azimuth = Annotated[float, between(-360, 360)]
Elevation = Annotated[float, between(-90, 90)]
Acute = Annotated[float, between(1, 89)]
Opening = Annotated[float, between(1, 179)]
Count = Annotated[int, counted(100_000)]
Whole = Annotated[int, Field(strict=True, ge=0, le=2**53)]
Distance = Annotated[float, between(0.1, 5000)]  # m, of an aircraft from what it films
Height = Annotated[float, between(0, 2000)]  # m, of an aircraft above what it is measured from
Speed = Annotated[float, between(0.1, 60)]  # m/s
Along = Annotated[float, between(0, 100_000)]  # m of the ride
Size = Annotated[float, between(0.01, 1000)]  # m, of a thing that stands there
Error = Annotated[float, between(0, 200)]  # m, of a place or a height
Above = Annotated[float, between(0, 1000)]  # m above the ground, of a part of a thing
Ground = Annotated[float, between(-500, 9000)]  # m above the sea: there is no other ground
Delay = Annotated[float, between(0, 60)]  # s
Push = Annotated[float, between(0.1, 50)]  # m/s², of an aircraft or a rider
# 0 takes a spread away; next to 0 it would have no meaning.
Lasting = Annotated[
    float,
    between(0, 3600),
    _apart(0.1),
    Field(description="0, or seconds at least 0.1 and at most 3600"),
]
Spreads = Annotated[
    float,
    between(0, 10),
    _apart(0.5),
    Field(description="0, or a number at least 0.5 and at most 10"),
]
Text = Annotated[
    str,
    Field(
        strict=True,
        min_length=1,
        max_length=1000,
        pattern=r"^[^\x00]*$",  # matching also refuses half characters (lone surrogates)
        description="a text",
    ),
]
RasterName = Annotated[
    str,
    AfterValidator(_no_number),
    Field(
        strict=True,
        description="the name of a raster file; flat ground is said by its elevation, "
        "for example terrain_m = 40.0",
    ),
]
Ratio = Annotated[
    str,
    Field(
        strict=True,
        pattern=r"^[1-9][0-9]{0,4}:[1-9][0-9]{0,4}$",
        description='a ratio as text, for example "16:9"',
    ),
]
ClassMark = Annotated[
    str,
    Field(
        strict=True,
        pattern=r"^((C|UK)[0-6])?$",
        description='the class mark printed on it, for example "C1" or "UK1", or "" for none',
    ),
]
Flag = Annotated[bool, Field(strict=True)]
Date = Annotated[date, BeforeValidator(_date), Field(strict=True)]
Moment = Annotated[
    AwareDatetime,
    Field(
        strict=True,
        description=f"a date and time with offset, unquoted, for example {MOMENT_EXAMPLE}",
    ),
]


_CHECKERS: dict[int, tuple[Any, TypeAdapter[Any]]] = {}
_OF_ARMS: dict[int, tuple[Any, tuple[TypeAdapter[Any], ...]]] = {}


def checker(arm: Any) -> TypeAdapter[Any]:
    """The strict checker of one type, made once (the type is kept, so its id stays its own)."""
    kept = _CHECKERS.get(id(arm))
    if kept is None or kept[0] is not arm:
        kept = arm, TypeAdapter(arm, config=ConfigDict(strict=True))
        _CHECKERS[id(arm)] = kept
    return kept[1]


def checkers(hint: Any) -> tuple[TypeAdapter[Any], ...]:
    """Those of the alternatives of a type that are neither tables nor lists, found once."""
    kept = _OF_ARMS.get(id(hint))
    if kept is None or kept[0] is not hint:
        plain = [a for a in arms(hint) if not is_dataclass(core(a))]
        kept = hint, tuple(checker(a) for a in plain if get_origin(core(a)) not in LISTS)
        _OF_ARMS[id(hint)] = kept
    return kept[1]
