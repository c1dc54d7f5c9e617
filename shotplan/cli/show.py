"""Lays words out on the terminal, to be read at 80 columns and plain when piped."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from shotplan.model.verdict import Verdict
from shotplan.output import answer as plan_words
from shotplan.output import words

if TYPE_CHECKING:
    from shotplan.judging.judged import Plan
    from shotplan.model.rules import Rules
    from shotplan.output.answers import styles
    from shotplan.output.answers.inventory import Inventory
    from shotplan.output.screen import Line

_STYLE = {
    Verdict.GO: "bold cyan",
    Verdict.CAUTION: "bold yellow",
    Verdict.UNKNOWN: "bold reverse",
    Verdict.NO_GO: "bold white on magenta",
}
_WIDEST = 100
_SCREEN = 80


def write_text(text: str) -> None:
    """Text as it is."""
    sys.stdout.write(text)


def write_json(value: object) -> None:
    """A value as JSON, names as the terminal shows them; what JSON has no word for becomes text."""

    def other(thing: object) -> object:
        return sorted(thing) if isinstance(thing, (set, frozenset)) else str(thing)

    said = words.all_plain(value)
    write_text(json.dumps(said, ensure_ascii=False, indent=1, default=other) + "\n")


def aside(*lines: str) -> None:
    """Lines that are not the answer, on stderr."""
    for line in lines:
        sys.stderr.write(f"{line}\n")


@contextmanager
def _printing() -> Iterator[Console]:
    """A console whose lines go to stdout without the blanks that pad them."""
    # Names from files are text: no markup, no emoji codes, no guessing at colours.
    console = Console(markup=False, emoji=False, highlight=False)
    console.width = min(console.width, _WIDEST)
    with console.capture() as printed:
        yield console
    for line in printed.get().splitlines():
        write_text(line.rstrip() + "\n")


def screen(lines: Sequence[Line]) -> None:
    """One screen, 80 columns at most, words at the right edge."""
    with _printing() as console:
        wide = min(console.width, _SCREEN)
        for line in lines:
            _line(console, line, wide)


def _line(console: Console, line: Line, wide: int) -> None:
    label = f"{line.label:<{line.indent}}"
    word = Text() if line.word is None else _word(line.word)
    if line.leads:
        word = Text("-> ").append(word)
    style = "bold" if line.strong else ""
    text = Text(line.text, style=style)
    rows = text.wrap(console, wide - line.indent - (len(word) + 2 if len(word) else 0))
    for index, row in enumerate(rows or [Text()]):
        row.rstrip()
        head = Text(label if index == 0 else " " * line.indent, style="bold").append(row)
        if index == len(rows) - 1 and len(word):
            head.append(" " * (wide - len(head.plain) - len(word.plain))).append(word)
        console.print(head)


def answer(plan: Plan) -> None:
    """The whole answer: first every shot with what decides and what to change, then shot by shot
    what is not go, then what to remember; remarks are left to `explain`. The parts of a limit,
    much the same for every shot, are told once per check."""
    said = plan_words.answer(plan)
    limits_told: set[str] = set()
    with _printing() as console:
        console.print(Text.assemble((said.site, "bold"), ": ", _word(said.verdict)))
        if len(said.shots) > 1:
            console.print(said.tally)
        console.print(said.planned)
        if len(said.shots) > 1:
            _shots(console, said.shots)
        console.print()
        console.print(said.proved)
        for shot in said.shots:
            _shot(console, shot, limits_told)
        _bullets(console, f"The day (local time, {said.zone})", said.day)
        _bullets(console, "Before you fly", said.cautions)
        _bullets(console, "On what was read", said.read)
        _bullets(console, f"Reminders of the rule pack {said.rules}", [
            f"{r.text} [{r.source}; {r.known}]" for r in said.reminders
        ])  # fmt: skip


def _shots(console: Console, shots: Sequence[words.ShotWords]) -> None:
    """Each with its letter and word: its name, what decides, what to change."""
    table = _table(3)
    for shot in shots:
        told = Text(shot.name, style="bold")
        if shot.why:
            told.append(f"\n{shot.why}", "not bold")
        if shot.change:
            told.append("\nChange: ").append(shot.change, "not bold")
        table.add_row(shot.letter, _word(shot.verdict), told)
    console.print()
    console.print(Padding(table, (0, 0, 0, 3)))


def _table(columns: int, gap: int = 2) -> Table:
    """Columns without lines; only the last one wraps."""
    table = Table.grid(padding=(0, gap, 0, 0))
    for _ in range(columns - 1):
        table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    return table


def _shot(console: Console, shot: words.ShotWords, limits_told: set[str]) -> None:
    console.print()
    title = Text.assemble((f"{shot.letter}  {shot.name}", "bold"), ": ", _word(shot.verdict))
    console.print(title)
    console.print(Padding(f"{shot.style}, {shot.part}", (0, 0, 0, 3)))
    if shot.combined:
        console.print(Padding(shot.combined, (0, 0, 0, 3)))
    if shot.change:
        change = Text.assemble(("Change: ", "bold"), shot.change)
        console.print(Padding(change, (0, 0, 0, 3)))
    table, well = _table(3), []
    same: dict[tuple[str, str], str] = {}  # a reason and what to change -> who told it
    for row in shot.rows:
        if row.verdict == Verdict.GO and not row.seen:
            well.append(f"{row.check} {row.distance}")
        else:
            before = same.setdefault((row.reason, row.advice), row.check)
            alike = "" if before == row.check else before
            table.add_row(row.pin, _word(row.verdict), _told(row, limits_told, alike))
    if well:
        table.add_row("", _word(Verdict.GO), "; ".join(well))
    console.print(Padding(table, (1, 0, 0, 3)))
    _bullets(console, "Along the ride", shot.stretches, indent=3)
    _bullets(console, "Last call", shot.calls, indent=3)


def _told(row: words.Row, limits_told: set[str], alike: str) -> Text:
    """A finding; where another of the shot (`alike`) has told the same, only that it is."""
    told = Text.assemble((row.check, "bold"), f"{row.title[len(row.check) :]}: {row.distance}")
    if row.verdict == Verdict.GO:
        for line in row.seen:
            told.append(f"\n{line}")
        return told
    told.append(f"\nas {alike}" if alike else f"\n{row.reason}")
    if row.advice and not alike:
        told.append("\nTo do: ", "bold").append(row.advice)
    for line in (*row.seen, row.rides):
        if line:
            told.append(f"\n{line}")
    for line in ("" if alike else row.where, *_needed(row, limits_told)):
        if line:
            told.append(f"\n{line}", "dim")
    return told


def _needed(row: words.Row, limits_told: set[str]) -> Iterator[str]:
    """The notes one needs beside the advice: the parts of its limit, where they have not been
    told, and the wind from each side."""
    for note in row.notes:
        if note.kind == "limit" and row.check not in limits_told:
            limits_told.add(row.check)
            yield note.text
        if note.kind == "table":
            yield note.text


def _word(verdict: Verdict) -> Text:
    return Text(verdict.word, style=_STYLE[verdict])


def _bullets(console: Console, title: str, lines: Sequence[str], indent: int = 0) -> None:
    if not lines:
        return
    table = _table(2, gap=1)
    for line in lines:
        table.add_row("-", Text(line))
    console.print()
    console.print(Padding(Text(title, style="bold"), (0, 0, 0, indent)))
    console.print(Padding(table, (0, 0, 0, indent)))


def explain(plan: Plan) -> None:
    """The remarks shot by shot, how last calls come about, every assumption with the checks that
    rest on it, every limit with its source."""
    taken = plan_words.assumptions(plan)
    with _printing() as console:
        for shot in plan_words.answer(plan).shots:
            _bullets(console, f"Remarks on {shot.letter}  {shot.name}", [
                f"{row.check}: {note.text}" for row in shot.rows for note in row.notes
                if note.kind != "limit" and (note.kind != "table" or row.verdict == Verdict.GO)
            ])  # fmt: skip
            _bullets(console, f"What the checks reckon would do for {shot.letter}, not flown", [
                f"{row.check}: {row.reckoned}"
                for row in shot.rows if row.verdict != Verdict.GO and row.reckoned
            ])  # fmt: skip
        _bullets(console, "How the last calls come about", plan_words.reckoned(plan))
        _bullets(console, "Taken for granted", [
            f"{line} ({', '.join(checks)})" for line, checks in taken.items()
        ])  # fmt: skip
        _bullets(console, "How the rides are disturbed, [disturbance]", plan_words.disturbed(plan))
        _bullets(console, "What each check rests on", plan_words.sources(plan))


def inventory(found: Inventory) -> None:
    """What a folder holds and what is missing."""
    with _printing() as console:
        console.print(Text(found.site, style="bold"))
        _grid(console, found.there)
        _bullets(console, "Missing", found.missing)
        _bullets(console, "Mended while reading", found.mended)


def style_table(said: styles.Said) -> None:
    """The recommended route first; then, section by section, what is safe where."""
    with _printing() as console:
        console.print(Text.assemble((said.site, "bold"), ": ", _word(said.verdict)))
        for section in said.sections:
            console.print()
            console.print(Text(section.title, style="bold"))
            table = _table(3)
            for line in section.lines:
                word = "" if line.verdict is None else _word(line.verdict)
                table.add_row(Text(line.label), word, Text(line.text))
            console.print(Padding(table, (0, 0, 0, 3)))


def lists(parts: Mapping[str, Sequence[str]]) -> None:
    """Lines under titles."""
    with _printing() as console:
        for title, lines in parts.items():
            _bullets(console, title, lines)


def surveys(said: Mapping[str, Sequence[str]], most: int = 25) -> None:
    """What each source knew, a line each, shortened where all of them are more than fit."""
    each = max(1, (most - 2 * len(said)) // max(1, len(said)))
    told = {}
    for title, lines in said.items():
        more = [f"and {len(lines) - each} more"] if len(lines) > each else []
        told[words.plain(title)] = [words.plain(one) for one in (*lines[:each], *more)]
    lists(told)


def rows(lines: Sequence[tuple[str, str]]) -> None:
    """Label and text, a line each."""
    with _printing() as console:
        _grid(console, lines)


def _grid(console: Console, lines: Sequence[tuple[str, str]]) -> None:
    table = _table(2)
    for label, text in lines:
        table.add_row(Text(label, style="bold"), Text(text))
    console.print(table)


def pack(rules: Rules, numbers: Sequence[str]) -> None:
    """One rule pack: what is checked, every number with its source, and what to remember."""
    with _printing() as console:
        console.print(Text(f"{rules.id}: {rules.title}", style="bold"))
        console.print(f"read on {rules.read_on}; countries: {', '.join(rules.countries) or 'any'}")
        _bullets(console, "Numbers that are checked", numbers)
        _bullets(console, "Reminders", [
            f"{r.text} [{r.source}; {plan_words.KNOWN[r.known]}]" for r in rules.reminders
        ])  # fmt: skip
