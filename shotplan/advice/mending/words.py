"""What is said of a change: what instead of what, and the word; and of what is in the way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from shotplan.files.words import printable
from shotplan.kernels.motion.setpoints import OVER_WORDS, HeightOver
from shotplan.model.settings import UNITS, Setting
from shotplan.model.shot import LinkLost, Shot
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check

SAID = 2  # so many checks are said to be in the way
AFTER = {"out": "out", "wide": "radius", "up": "up", "fast": ""}
ALONE: dict[LinkLost, str] = {
    "home": "flies home", "hover": "hovers", "land": "lands",
}  # fmt: skip


def text(old: Shot, new: Shot, verdict: Verdict) -> str:
    """`18 m out, 9 m up instead of 12 and 6; only 40 to 120 m (80 of 240 m filmed): go`."""
    return f"{'; '.join(_told(old, new))}: {verdict.word}"


def _told(old: Shot, new: Shot) -> Iterator[str]:
    before = {one.key: one for one in old.style.settings()}
    both = [(before[one.key], one) for one in new.style.settings() if one.key in before]
    changed = [(was, now) for was, now in both if was.value != now.value]
    numbers = [pair for pair in changed if pair[1].more is not None]
    if numbers:
        new_ones = ", ".join(_number(now) for _, now in numbers[::-1])
        yield f"{new_ones} instead of {' and '.join(f'{was.number:g}' for was, _ in numbers[::-1])}"
    for was, now in changed:
        if now.more is None:
            yield f"{now.label} {_word(now)} instead of {_word(was)}"
    over_old, over_new = (_over(shot) for shot in (old, new))
    if over_old != over_new and over_old and over_new:
        yield f"height over {OVER_WORDS[over_new]} instead of over {OVER_WORDS[over_old]}"
    if (old.from_m, old.to_m) != (new.from_m, new.to_m):
        kept, whole = new.to_m - new.from_m, old.to_m - old.from_m
        yield f"only {new.from_m:.0f} to {new.to_m:.0f} m ({kept:.0f} of {whole:.0f} m filmed)"
    if old.link_lost != new.link_lost:
        yield (
            f"left alone it {ALONE[new.link_lost]} instead of {_was(old.link_lost)} (set that on "
            "the aircraft)"
        )


def _over(shot: Shot) -> HeightOver | None:
    found: HeightOver | None = vars(shot.style).get("height_over")
    return found


def _was(link: LinkLost) -> str:
    return {"home": "flying home", "hover": "hovering", "land": "landing"}[link]


def _number(one: Setting) -> str:
    """`18 m out`; of two alike its own label: `ends at 24 m out`."""
    unit = next((u for tail, u in UNITS.items() if one.key.endswith(tail)), "")
    ends = f"{one.label} " if one.label.startswith("ends") else ""
    after = AFTER[one.more] if one.more else ""
    return f"{ends}{one.number:g}{unit} {after}".rstrip()


def _word(one: Setting) -> str:
    return printable(str(one.value).replace(":", " "))


def stuck(reason: str) -> str:
    """Where one check refuses as far as anything is tried."""
    return f"nothing works, whatever of this shot is changed: {reason}"


def in_the_way(refused: Counter[str], reasons: Mapping[str, str], checks: Sequence[Check]) -> str:
    """What refused most, in its own words."""
    of = {check.id: check.told for check in checks}
    said = [
        reasons.get(name) or of[name].wrong.replace("{thing}", of[name].name or "something")
        for name, _ in refused.most_common(SAID)
    ]
    return f"nothing near it works; what stops it: {'; '.join(said)}"
