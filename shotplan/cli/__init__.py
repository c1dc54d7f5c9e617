"""The command line: one thin file per command, named like it.

To add a command: write `cli/<name>.py` with a function that parses, calls one library function
and prints, and add it to `_COMMANDS`. Libraries are imported inside the function, so that
`shotplan --help` stays quick. Report on stdout, remarks on stderr; exit codes in `guard`.
"""

from __future__ import annotations

import os

import typer

from shotplan.cli import (
    add,
    aircraft,
    brief,
    demo,
    draw,
    light,
    new,
    plan,
    rules,
    spots,
    styles,
    survey,
)
from shotplan.cli.guard import guarded, printing_anything
from shotplan.cli.options import Spread

_COMMANDS = (
    demo.demo,
    new.new,
    add.add,
    survey.survey,
    draw.draw,
    plan.plan,
    styles.styles,
    spots.spots,
    light.light,
    brief.brief,
    rules.rules,
    aircraft.aircraft,
)

app = typer.Typer(
    help="Plan how a camera aircraft may follow your ride, and what keeps it from doing so.",
    epilog="Exit codes: 0 go or caution, 1 no-go, 3 unknown, 2 wrong usage or unreadable input, "
    "4 a fault of the program's own.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
for _command in _COMMANDS:
    app.command(cls=Spread)(guarded(_command))


def main() -> None:
    """The `shotplan` command. Work is shared out in processes, where threads of the linear algebra
    would stand in each other's way: set before anything is imported that reads it."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    printing_anything()
    app()
