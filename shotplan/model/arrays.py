"""Shapes checked with a message that says field, wanted, got; arrays made read-only views."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


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
