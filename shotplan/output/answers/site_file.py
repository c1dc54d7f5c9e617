"""The text of a site file whose shots are the recommended ones, or mended; all else of it stays as
it is.

The easier versions to fly first stand above each shot, commented out. What comes from files goes
in as TOML strings, escaped.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from shotplan.advice.style_table import Leg, StyleTable
from shotplan.errors import Problems
from shotplan.files import toml_out
from shotplan.files.tables import laid_over
from shotplan.judging.judged import Plan
from shotplan.model.flight import Style
from shotplan.model.shot import Shot
from shotplan.output.words import plain

NAME = "site.recommended.toml"
MENDED = "site.mended.toml"
MENDED_HEAD = "# Mended by `shotplan plan`; copied over site.toml it is planned like any other.\n"
HEAD = "# Recommended by `shotplan styles`; copied over site.toml it is planned like any other.\n"
_HEADER = re.compile(r"[ \t]*\[")


def text(table: StyleTable, old: str, where: str = "site.toml") -> str:
    """The new file, from the text of the old one; `BadInput` where its shots cannot be told from
    the rest."""
    problems = Problems()
    pieces = _told_apart(old, where, problems)
    if not table.legs:
        problems.add(where, "nothing passes anywhere along the ride: there is no shot to write")
    problems.raise_if_any()
    own = tomllib.loads(old)
    written = [HEAD, _line_end(pieces[0].text)]
    shots = "\n".join(_leg(leg, k, str(own.get("link_lost", "home"))) for k, leg in
                      enumerate(table.legs, start=1))  # fmt: skip
    at = [k for k, p in enumerate(pieces) if p.holds == {"shot"}]
    for k, piece in enumerate(pieces):
        if k not in at:
            written.append(piece.text)
        if k == (at[0] if at else len(pieces) - 1):
            written += [_parted(written[-1]), shots]
        if k in at and k + 1 not in at:
            written.append(_last_comments(piece.text))
    made = "".join(written)
    _check(own, tomllib.loads(made))
    return made


def mended(plan: Plan, old: str, where: str = "site.toml") -> str:
    """The new file, from the text of the old one: the best change of each shot laid over it, the
    shots without one as they are. `BadInput` as in `text`."""
    problems = Problems()
    pieces = _told_apart(old, where, problems)
    problems.raise_if_any()
    own = tomllib.loads(old)
    first = {s.name: s.mended.changes[0] for s in plan if s.mended and s.mended.changes}
    written, number, change = [MENDED_HEAD, _line_end(pieces[0].text)], -1, None
    for k, piece in enumerate(pieces):
        begins = piece.holds == {"shot"} and piece.text.lstrip().startswith("[[")
        if begins:
            number += 1
            change = first.get(own["shot"][number]["name"])
        if piece.holds != {"shot"} or change is None:
            written.append(piece.text)
            continue
        if begins:
            says = laid_over(own["shot"][number], change.keys)
            written.append(f"# {plain(change.text)}\n{_block(says)}")
        if k + 1 == len(pieces) or pieces[k + 1].text.lstrip().startswith("[["):
            written.append(_last_comments(piece.text))
    made = "".join(written)
    _check(own, tomllib.loads(made))
    return made


def _told_apart(old: str, where: str, problems: Problems) -> list[_Piece]:
    """The file's pieces, where each shot is one."""
    pieces = list(_pieces(old))
    if any("shot" in p.holds and p.holds != {"shot"} for p in pieces):
        problems.add(where, "its shots are one list; give each a [[shot]] of its own")
    return pieces


class _Piece(NamedTuple):
    """A table's header with all that follows it, and the keys outside every table first."""

    text: str
    holds: set[str]


def _pieces(old: str) -> Iterator[_Piece]:
    """The file cut before every header. A line that looks like one inside a long text or a list is
    none: what stands before it is then not whole."""
    lines = [line + "\n" for line in old.split("\n")]
    lines[-1] = lines[-1][:-1]
    kept: list[str] = []
    for line in lines:
        if kept and _HEADER.match(line):
            holds = _holds("".join(kept))
            if holds is not None:
                yield _Piece("".join(kept), holds)
                kept = []
        kept.append(line)
    yield _Piece("".join(kept), _holds("".join(kept)) or set())


def _holds(part: str) -> set[str] | None:
    try:
        return set(tomllib.loads(part))
    except tomllib.TOMLDecodeError:
        return None


def _last_comments(part: str) -> str:
    """Comments after the last key of a table: they belong to what follows."""
    lines = part.split("\n")
    last = max(k for k, line in enumerate(lines) if line.strip() and line.lstrip()[0] != "#")
    rest = "\n".join(lines[last + 1 :])
    return rest if not rest or rest.startswith(("\n", "\r\n")) else f"\n{rest}"


def _parted(before: str) -> str:
    """What is missing to a blank line after it; comments over the first shot stay with it."""
    lines = before.rstrip("\n").rsplit("\n", 1)
    if not before.endswith("\n"):
        return "\n\n"
    return "" if before.endswith("\n\n") or lines[-1].lstrip().startswith("#") else "\n"


def _line_end(first: str) -> str:
    """A blank line after the head, unless the file begins with one."""
    return "" if first.startswith("\n") else "\n"


def _leg(leg: Leg, number: int, link_lost: str) -> str:
    """A shot, above it its easier versions as comments, the easiest first."""
    shot = leg.plan.scene.shot
    blocks = []
    for step, easier in enumerate(leg.easier, start=1):
        name = f"fly first, {step}: {easier.label}, for shot {number}"
        keys = _shot_keys(shot, name, easier.style, link_lost)
        blocks.append(f"# fly first: {plain(easier.label)}\n{_block(keys, '# ')}")
    word = f"# {number}: {leg.plan.verdict.word} when it was written\n"
    return "\n".join([*blocks, word + _block(_shot_keys(shot, shot.name, shot.style, link_lost))])


def _shot_keys(shot: Shot, name: str, style: Style, link_lost: str) -> dict[str, Any]:
    """What the file says of a shot; what is as it would be anyway is left out."""
    found: dict[str, Any] = {"name": name, **style.keys()}
    found |= {"from_m": round(shot.from_m, 3), "to_m": round(shot.to_m, 3)}
    if shot.takes != 1:
        found["takes"] = shot.takes
    if shot.stands.at:
        found["stands"] = dict(shot.stands.at)
    if shot.link_lost != link_lost:
        found["link_lost"] = shot.link_lost
    return found


def _block(says: Mapping[str, Any], before: str = "") -> str:
    lines = ["[[shot]]", *(f"{toml_out.key(k)} = {toml_out.value(v)}" for k, v in says.items())]
    return "".join(f"{before}{line}\n" for line in lines)


def _check(old: dict[str, Any], new: dict[str, Any]) -> None:
    """Nothing but the shots may have changed."""
    if {**old, "shot": 0} != {**new, "shot": 0}:
        raise AssertionError("more than the shots would have changed")
