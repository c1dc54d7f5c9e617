"""What several commands are given in the same words."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from shotplan.outing import Outing

SiteFolder = Annotated[Path, typer.Argument(help="the site folder")]
Force = Annotated[bool, typer.Option("--force", help="overwrite files shotplan did not write")]
Outside = Annotated[
    bool, typer.Option("--allow-outside", help="read files outside the folder that it names")
]
AsJson = Annotated[bool, typer.Option("--json", help="print JSON instead")]


def outing_of(site: Path, *, allow_outside: bool = False) -> Outing:
    """The folder, read; where results of another plan lie in it, that is said."""
    from shotplan.cli import show
    from shotplan.outing import read
    from shotplan.output.older import older

    outing = read(site, allow_outside=allow_outside)
    if said := older(site / "out", outing):
        show.aside(said)
    return outing


def one_of(where: str, name: str, names: Iterable[str]) -> None:
    """`BadInput` with all names where it is none of them."""
    from shotplan.errors import Problems

    problems = Problems()
    if name not in (known := list(names)):
        problems.add(where, f"got {name!r}, wanted one of: {', '.join(known)}")
    problems.raise_if_any()


def unless(help_: str, metavar: str | None = None, **more: Any) -> Any:
    """An option that may be left out; what then holds stands in its help, or nothing does."""
    return typer.Option(help=help_, metavar=metavar, show_default=False, **more)


def goes(what: str) -> Any:
    """The option that says where a command's results go."""
    return unless(f"where {what} (default: SITE/out)")
