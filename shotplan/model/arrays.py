"""Shapes checked with a message that says field, wanted, got; arrays made read-only views."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Own = TypeVar("Own")


def frozen_view(name: str, array: NDArray[Any], shape: tuple[int | None, ...]) -> NDArray[Any]:
    """A read-only view of `array`; `shape` has None where any length will do."""
    if len(array.shape) != len(shape) or any(
        w is not None and w != g for w, g in zip(shape, array.shape, strict=True)
    ):
        wanted = "(" + ", ".join("any" if w is None else str(w) for w in shape) + ")"
        raise ValueError(f"{name}: wanted shape {wanted}, got {array.shape}")
    view = array.view()
    view.flags.writeable = False
    return view


def put(obj: object, name: str, shape: tuple[int | None, ...]) -> tuple[int, ...]:
    """Inside `__post_init__` of a frozen dataclass: check the field and make it read-only."""
    view = frozen_view(f"{type(obj).__name__}.{name}", getattr(obj, name), shape)
    object.__setattr__(obj, name, view)
    return view.shape


def own(obj: Own) -> Own:
    """The same dataclass with arrays of its own: no view that keeps a larger array alive."""

    def held(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            return value.copy()
        return own(value) if is_dataclass(value) else value

    return replace(obj, **{f.name: held(getattr(obj, f.name)) for f in fields(obj)})  # type: ignore[type-var, arg-type]
