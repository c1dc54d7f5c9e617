"""How a command ends: bad input or a full disk is said plainly, a bug is said and kept for report.

Exit codes: 0 go or caution, 1 no-go, 3 unknown, 2 wrong usage or unreadable input, 4 a fault of the
program's own (no verdict was reached), 130 stopped.
"""

from __future__ import annotations

import codecs
import functools
import os
import platform
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import ParamSpec

import click
import typer

from shotplan import __version__
from shotplan.errors import BadInput, ShotplanError

P = ParamSpec("P")
FAULT = 4
ESCAPES = "shotplan-escapes"


def guarded(command: Callable[P, None]) -> Callable[P, None]:
    """The command, with whatever ends it early turned into words and an exit code."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        with guarding():
            command(*args, **kwargs)

    return run


@contextmanager
def guarding() -> Iterator[None]:
    """Bad input, a full disk, Ctrl-C and faults of the program's own as words and an exit code."""
    try:
        yield
    except (typer.Exit, typer.Abort, click.ClickException):
        raise
    except BadInput as bad:
        _say_problems(bad)
        raise typer.Exit(2) from None
    except BrokenPipeError:
        # Whoever read our output stopped reading: nothing is left to say or to flush.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(2) from None
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        typer.echo(_plain(f"{where}{error.strerror or error}"), err=True)
        raise typer.Exit(2) from None
    except KeyboardInterrupt:
        raise typer.Exit(130) from None
    except ShotplanError as error:
        typer.echo(_plain(str(error)), err=True)
        raise typer.Exit(FAULT) from None
    except Exception as error:
        typer.echo(_fault(error), err=True)
        raise typer.Exit(FAULT) from None


def printing_anything() -> None:
    r"""Characters that the terminal's encoding lacks are written as `\u00b7`, as JSON has them too,
    instead of ending the program."""
    codecs.register_error(ESCAPES, _escaped)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=ESCAPES)


def _escaped(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    units = error.object[error.start : error.end].encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[i : i + 4]}" for i in range(0, len(units), 4)), error.end


def _fault(error: Exception) -> str:
    """One line for the person; the rest is in a file of which they are told."""
    said = f"shotplan itself failed and says nothing about the flight ({type(error).__name__})"
    told = "".join(traceback.format_exception(error))
    try:
        handle, path = tempfile.mkstemp(prefix="shotplan-fault-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
            system = f"Python {platform.python_version()}, {platform.platform()}"
            file.write(f"shotplan {__version__}, {system}\n{sys.argv}\n\n{told}")
    except OSError:
        return f"{said}; no report could be written: {_plain(str(error))}"
    return f"{said}: its report is {_plain(path)}"


def _plain(text: str) -> str:
    from shotplan.output.words import plain

    return plain(text)


def _say_problems(bad: BadInput) -> None:
    count = len(bad.problems)
    typer.echo(f"{count} problem{'s' if count != 1 else ''} found:", err=True)
    for problem in bad.problems:
        typer.echo(f"  {_plain(str(problem))}", err=True)
