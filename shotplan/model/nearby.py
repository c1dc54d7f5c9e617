"""Versions of a style near the one that was asked for, and how much each changes its picture."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import (
    TYPE_CHECKING,
    Any,
    Literal,
    NamedTuple,
    cast,
    get_args,
    get_origin,
    get_type_hints,
)

if TYPE_CHECKING:
    from shotplan.model.flight import Style

ROUND_M, FINE_BELOW = 0.5, 4.0  # numbers are tried in halves; small ones finer
Axis = tuple[float, float, float]  # factors of what goes out, up, and fast


@dataclass(frozen=True, kw_only=True)
class Reach:
    """What a search for changes tries, as factors of what was asked for, and what each costs.

    The cost is how much the picture changes: `size_cost` a doubling or halving of how large the
    rider is, `angle_cost` an eighth of a turn of how steep it looks down, `speed_cost` a doubling;
    another side or other word `word_cost`; `cut_cost` all of the ride; `link_cost` what it does
    when left alone; `caution_cost` where it is then a caution. `spare_m`: no more rides than may
    break a limit come nearer to it than that, so that it holds for others too. At most `most`
    changes of a shot, of `tries` asked of the undisturbed ride, `proofs` of them of all rides.
    """

    out: tuple[float, ...] = (0.5, 0.75, 1.25, 1.5, 2.0, 3.0)
    up: tuple[float, ...] = (0.5, 0.75, 1.25, 1.5, 2.0, 3.0)
    fast: tuple[float, ...] = (0.5, 0.7, 1.4)
    size_cost: float = 1.0
    angle_cost: float = 1.0
    speed_cost: float = 0.5
    word_cost: float = 1.0
    cut_cost: float = 1.5
    link_cost: float = 0.1
    caution_cost: float = 0.4
    spare_m: float = 0.5
    least_s: float = 5.0
    most: int = 3
    tries: int = 120
    proofs: int = 4


class Near(NamedTuple):
    """One version: its `keys` that are others, what they cost; `end`: as far as is tried."""

    style: Style
    keys: dict[str, Any]
    cost: float
    end: bool


def words_of(style: Style) -> dict[str, tuple[str, ...]]:
    """Its settings that are one of a few words, and which others there are. A height over the
    launch is another number, and no word for the same."""
    hints = get_type_hints(type(style))
    told = {one.key for one in style.settings()} | {"height_over"}
    found = {}
    for one in fields(cast(Any, style)):
        choice = hints[one.name]
        if one.name in told and get_origin(choice) is Literal:
            found[one.name] = tuple(w for w in get_args(choice) if w != "launch")
    return found


def nearby(style: Style, words: Mapping[str, tuple[str, ...]], reach: Reach) -> list[Near]:
    """All that is tried of a style, the least changed first; what it refuses left out. With
    another word only some numbers are tried."""
    found: dict[Style, Near] = {}
    for other, cost in _worded(style, words, reach):
        same = other == style
        for axis in _factors(reach) if same else _few():
            made = _moved(other, axis)
            if made is None or made == style:
                continue
            end = _is_end(axis, reach) if same else axis == (1.0, 1.0, 1.0)
            near = Near(made, _keys(style, made), cost + _cost(style, made, reach), end)
            if made not in found or near.cost < found[made].cost:
                found[made] = near
    return sorted(found.values(), key=lambda near: near.cost)


def _worded(
    style: Style, words: Mapping[str, tuple[str, ...]], reach: Reach
) -> Iterator[tuple[Style, float]]:
    """As it is, and with one word another; those named later cost a hair more."""
    yield style, 0.0
    for key, others in words.items():
        for at, word in enumerate(w for w in others if w != style.keys().get(key)):
            made = _made(style, {key: word})
            if made is not None and made != style:
                yield made, reach.word_cost * (1.0 + 0.02 * at)


def _factors(reach: Reach) -> Iterator[Axis]:
    for out, up in itertools.product((1.0, *reach.out), (1.0, *reach.up)):
        yield out, up, 1.0
    yield from ((1.0, 1.0, fast) for fast in reach.fast)


def _few() -> tuple[Axis, ...]:
    return tuple((out, up, 1.0) for out in (1.0, 1.5, 2.0) for up in (1.0, 1.5, 2.0))


def _is_end(axis: Axis, reach: Reach) -> bool:
    out, up, fast = axis
    far = [(min(out_up), max(out_up)) for out_up in (reach.out, reach.up, reach.fast)]
    moved = [(f, e) for f, e in zip((out, up, fast), far, strict=True) if f != 1.0]
    return all(f in ends for f, ends in moved) and (len(moved) == 1 or min(out, up) > 1.0)


def _moved(style: Style, axis: Axis) -> Style | None:
    """The same with its numbers times some factors."""
    out, up, fast = axis
    ways = {"out": out, "wide": out, "up": up, "fast": fast}
    numbers = {
        one.key: _rounded(one.number * ways[one.more])
        for one in style.settings()
        if one.more is not None and one.value is not None and ways[one.more] != 1.0
    }
    if not numbers and axis != (1.0, 1.0, 1.0):
        return None
    return _made(style, numbers)


def _made(style: Style, keys: Mapping[str, Any]) -> Style | None:
    try:
        return cast("Style", replace(cast(Any, style), **keys))
    except ValueError:
        return None


def _rounded(value: float) -> float:
    step = ROUND_M if value >= FINE_BELOW else 0.1
    return round(round(value / step) * step, 2)


def _keys(old: Style, new: Style) -> dict[str, Any]:
    names = [one.name for one in fields(cast(Any, new))]
    return {n: getattr(new, n) for n in names if getattr(new, n) != getattr(old, n)}


def _cost(old: Style, new: Style, reach: Reach) -> float:
    """Of its numbers alone."""
    (size, angle, speed), (size_, angle_, speed_) = _picture(old), _picture(new)
    turned = abs(angle_ - angle) / (math.pi / 4.0)
    doublings = abs(math.log2(size_ / size))
    faster = abs(math.log2(speed_ / speed))
    return reach.size_cost * doublings + reach.angle_cost * turned + reach.speed_cost * faster


def _picture(style: Style) -> Axis:
    """How far off what it films is, how steeply it looks down on it, how fast it goes."""
    out, up, fast = (
        [n.number for n in style.moves(*ways) if n.value is not None]
        for ways in (("out", "wide"), ("up",), ("fast",))
    )
    level, high = (sum(some) / len(some) if some else 0.0 for some in (out, up))
    speed = sum(fast) / len(fast) if fast else 1.0
    return max(math.hypot(level, high), 0.1), math.atan2(high, level), max(speed, 0.1)
