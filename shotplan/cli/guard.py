"""How a command ends: bad input or a full disk is said plainly, a bug is not hidden.

Exit codes: 0 go or caution, 1 no-go, 3 unknown, 2 wrong usage or unreadable input, 130 stopped.
"""

from __future__ import annotations

import functools
import os
import sys
from collections.abc import Callable
from typing import ParamSpec

import typer

from shotplan.errors import BadInput

P = ParamSpec("P")


def guarded(command: Callable[P, None]) -> Callable[P, None]:
    """The command, with bad input, a full disk and Ctrl-C turned into words and an exit code."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            command(*args, **kwargs)
        except BadInput as bad:
            _say_problems(bad)
            raise typer.Exit(2) from None
        except BrokenPipeError:
            # Whoever read our output stopped reading: nothing is left to say or to flush.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            raise typer.Exit(2) from None
        except OSError as error:
            where = f"{error.filename}: " if error.filename else ""
            typer.echo(f"{where}{error.strerror or error}", err=True)
            raise typer.Exit(2) from None
        except KeyboardInterrupt:
            raise typer.Exit(130) from None

    return run


def _say_problems(bad: BadInput) -> None:
    from shotplan.output.words import plain

    count = len(bad.problems)
    typer.echo(f"{count} problem{'s' if count != 1 else ''} found:", err=True)
    for problem in bad.problems:
        typer.echo(f"  {plain(str(problem))}", err=True)
