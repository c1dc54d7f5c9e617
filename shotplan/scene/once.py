"""What is worked out of a scene once, for all who ask."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar, cast

from shotplan.scene.scene import Scene

Said = TypeVar("Said")


def once(ask: Callable[[Scene], Said]) -> Callable[[Scene], Said]:
    """Keeps on a scene what is worked out of it alone, as a cached property does, for files that
    stand above `scene.py`."""
    name = f"{ask.__module__}.{ask.__qualname__}"

    @wraps(ask)
    def kept(scene: Scene) -> Said:
        said = vars(scene).setdefault("said", {})
        if name not in said:
            said[name] = ask(scene)
        return cast(Said, said[name])

    return kept
