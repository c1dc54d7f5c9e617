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


_NUMBER = Field(strict=True, allow_inf_nan=False)
Finite = Annotated[float, _NUMBER]
Positive = Annotated[float, _NUMBER, Field(gt=0)]
NonNegative = Annotated[float, _NUMBER, Field(ge=0)]
Share = Annotated[float, _NUMBER, Field(ge=0, le=1)]
Azimuth = Annotated[float, _NUMBER, Field(ge=-360, le=360)]
Elevation = Annotated[float, _NUMBER, Field(ge=-90, le=90)]
Acute = Annotated[float, _NUMBER, Field(gt=0, lt=90)]
Opening = Annotated[float, _NUMBER, Field(gt=0, lt=180)]
Count = Annotated[int, Field(strict=True, ge=1)]
Whole = Annotated[int, Field(strict=True, ge=0)]
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
