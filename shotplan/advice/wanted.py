"""What the search for a style is to try, and what makes one picture better than another."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

from shotplan.model import settings
from shotplan.model.search import Ladders
from shotplan.styles import listed as listed_styles

SIDES = ("left", "right", "downhill", "uphill", "north", "east", "south", "west")
SIZE_OFF_MOST = 3.0  # doublings: a rider more out of size than that is as bad


def searched() -> tuple[str, ...]:
    """Names of the styles that film a stretch; the others film a moment."""
    return tuple(name for name, style in listed_styles().items() if style.searched)


@dataclass(frozen=True, kw_only=True)
class Wanted(Ladders):
    """Settings of the search. Lists are tried in every combination that the site and the aircraft
    can have; of more than `most` candidates, `most` are taken, spread over all of them."""

    styles: tuple[str, ...] = field(default_factory=searched)
    place_within_m: float = 30.0
    slope_least: float = 0.05
    most: int = 120
    rides: int = 60
    stretch_m: float = 10.0
    least_run_m: float = 30.0
    size_least: float = 0.08
    size_most: float = 0.35
    size_weight: float = 1.0
    light_weight: float = 1.0
    aspect_weight: float = 1.0
    caution_weight: float = 4.0
    unknown_weight: float = 20.0
    change_style_weight: float = 12.0
    change_numbers_weight: float = 8.0
    gap_weight: float = 100.0
    ladder_steps: int = 6

    def __post_init__(self) -> None:
        """Check all of it; `ValueError` with every problem, a line each."""
        problems = tuple(_problems(self))
        if problems:
            raise ValueError("\n".join(problems))

    def with_(self, given: Mapping[str, str]) -> Wanted:
        """These settings with others as a person writes them: `side_m` -> `6, 12`. Every problem
        in one `ValueError`, a line each."""
        read: dict[str, Any] = {}
        problems = []
        for key, text in given.items():
            try:
                read[key] = _read(key, text)
            except ValueError as error:
                problems.append(str(error))
        try:
            changed = replace(self, **read)
        except ValueError as error:
            problems.append(str(error))
        if problems:
            raise ValueError("\n".join(problems))
        return changed

    @property
    def dearest(self) -> float:
        """The most that a stretch and the changes around it can cost."""
        picture = SIZE_OFF_MOST * self.size_weight + self.light_weight + self.aspect_weight
        word = max(self.caution_weight, self.unknown_weight)
        return picture + word + 2.0 * max(self.change_style_weight, self.change_numbers_weight)


OWN = "own choice"
REASONS: dict[str, tuple[str, str, str]] = {
    "styles": ("", "styles to try", "those that film a stretch; the others film a moment"),
    "sides": (
        "",
        "sides to track on, a side of the world too",
        "uphill and downhill are left out on level ground",
    ),
    "behind_m": (
        "m",
        "distances behind and ahead",
        "each about 1.4 times the one before, from twice the least gap to the rider",
    ),
    "side_m": ("m", "distances to the side", "each about 1.4 times the one before"),
    "heights_m": (
        "m",
        "heights over the rider",
        "from just over his head on; each about 1.6 times",
    ),
    "top_down_m": ("m", "heights straight above him", "each about 1.4 times the one before"),
    "orbit_m": ("m", "radii", "a turn takes 21 s to 52 s at 3 m/s"),
    "orbit_m_s": ("m/s", "speeds along the circle", "own choice; round the rider they add to his"),
    "orbit_heights_m": ("m", "heights of orbits", "over a person, and over low trees"),
    "hold_heights_m": ("m", "heights over a place", "from over one's head to over low trees"),
    "place_within_m": (
        "m",
        "how near to the ride a place is one to go round or stand over",
        "at 28 m he is 8 % of the frame high in a field of view of 72°, 16:9",
    ),
    "slope_least": ("", "from what mean slope on there is an uphill side", OWN),
    "most": ("", "candidates at most", "own choice: the time it takes grows with it"),
    "rides": (
        "",
        "common rides of the search, the undisturbed one included",
        "59 clean ones prove a share under 5 %: Clopper and Pearson",
    ),
    "stretch_m": (
        "m",
        "length of a stretch",
        "a metre of the ride looks 5 m each way: no shorter stretch stands alone",
    ),
    "least_run_m": ("m", "shortest shot", "5 s at 6 m/s: shorter is no shot (from memory)"),
    "size_least": (
        "of the frame",
        "how high the rider is at least",
        "a very long shot begins at 0.05: taxonomy of ICIP 2018, from memory",
    ),
    "size_most": (
        "of the frame",
        "how high he is at most",
        "a long shot ends at 0.40 (the same), with some room to lag",
    ),
    "size_weight": (
        "a doubling",
        "cost of a rider too small or too large",
        f"the measure of the other costs; no more than {SIZE_OFF_MOST:g} doublings count",
    ),
    "light_weight": (
        "",
        "cost of the poorest light on him, straight against the sun",
        "own choice: as bad as half or twice the size",
    ),
    "aspect_weight": (
        "",
        "cost of seeing only his back, or the top of his helmet",
        "own choice: from abeam one sees him ride, from ahead his face (common practice)",
    ),
    "caution_weight": (
        "a stretch",
        "cost of a caution",
        "own choice: as much as the poorest picture",
    ),
    "unknown_weight": (
        "a stretch",
        "cost of what is not known",
        "dearer than any caution with any picture: only where nothing known passes",
    ),
    "change_style_weight": (
        "a change",
        "cost of another style or side",
        "own choice: few changes come before the picture",
    ),
    "change_numbers_weight": (
        "a change",
        "cost of another distance or height",
        "own choice: a setting changes, the shot begins anew",
    ),
    "gap_weight": ("a stretch", "cost of filming nothing", "dearer than anything that passes"),
    "ladder_steps": (
        "",
        "how many steps farther, higher, slower the easier versions are sought",
        "up to 18 m farther and 12 m higher",
    ),
}
"""Of each setting its unit, what it is, and why it is so by default."""


def explained(wanted: Wanted) -> tuple[str, ...]:
    """Every setting with its reason, a line each, as `with_` reads it."""
    return settings.explained(wanted, REASONS)


def _read(key: str, text: str) -> Any:
    """A setting as written, in the kind its default has."""
    names = [f.name for f in fields(Wanted)]
    if key not in names:
        near = difflib.get_close_matches(key, names, 1)
        hint = f"did you mean {near[0]}?" if near else "there are " + ", ".join(names)
        raise ValueError(f"{key!r} is no setting of the search; {hint}")
    default = getattr(Wanted(), key)
    if isinstance(default, tuple):
        words = [word.strip() for word in text.split(",") if word.strip()]
        if isinstance(default[0], str):
            return tuple(words)
        return tuple(
            _number(key, word, "numbers with commas between, like 6, 12") for word in words
        )
    if isinstance(default, int):
        number = _number(key, text, f"a whole number, like {default}")
        if not number.is_integer():
            raise ValueError(f"{key} is {text!r}; write a whole number, like {default}")
        return int(number)
    return _number(key, text, f"a number, like {default:g}")


def _number(key: str, text: str, like: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(f"{key} is {text!r}; write {like}")
    return number


FROM_ZERO = (
    "slope_least", "size_weight", "light_weight", "aspect_weight", "caution_weight",
    "unknown_weight", "change_style_weight", "change_numbers_weight", "ladder_steps",
)  # fmt: skip


def _problems(wanted: Wanted) -> Iterator[str]:
    there = searched()
    for name, known in (("styles", there), ("sides", SIDES)):
        for word in getattr(wanted, name):
            if word not in known:
                yield f"{name} has {word!r}; there are {', '.join(known)}"
    if not wanted.styles:
        yield f"styles is empty; there are {', '.join(there)}"
    for one in fields(wanted):
        value = getattr(wanted, one.name)
        for number in value if isinstance(value, tuple) else (value,):
            if isinstance(number, str):
                continue
            zero = one.name in FROM_ZERO
            if not (math.isfinite(number) and (number > 0 or (zero and number == 0))):
                least = "0 or more" if zero else "more than 0"
                yield f"{one.name} is {number:g}; give a number of {least}"
    if any(height <= 1.0 for height in wanted.top_down_m):
        yield "top_down_m: from 1 m or less there is no looking down on the rider; give more"
    if wanted.size_least > wanted.size_most:
        yield (
            f"size_least is {wanted.size_least:g} and size_most {wanted.size_most:g}; give the "
            "smaller first"
        )
    if wanted.gap_weight <= wanted.dearest:
        yield (
            f"gap_weight is {wanted.gap_weight:g}, but the other weights come to "
            f"{wanted.dearest:g}: nothing would be filmed where something can be; give more"
        )
