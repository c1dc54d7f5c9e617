"""`shotplan plan`: fly and judge every shot of a site folder."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shotplan.cli.options import Force, Outside, SiteFolder, goes, one_of, unless

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shotplan.judging.judged import Plan
    from shotplan.output import Output
    from shotplan.output.folder import Put

NONE = "none"
Explain = Annotated[
    bool,
    typer.Option(
        "--explain", help="print all findings, with remarks, assumptions, defaults and sources"
    ),
]
Preview = Annotated[
    bool, typer.Option("--preview", help="also write every shot as a small GIF (a minute each)")
]

Only = Annotated[
    str | None, unless("beside report.json make only these (map,card), or none", metavar="WHAT")
]
NoMend = Annotated[bool, typer.Option("--no-mend", help="do not look for changes that work")]
Write = Annotated[
    bool,
    typer.Option("--write", help="put the best change of each shot into SITE/site.mended.toml"),
]
Alone = Annotated[str | None, unless("plan this shot alone", metavar="NAME")]


def plan(
    site: SiteFolder,
    out: Annotated[Path | None, goes("results go")] = None,
    force: Force = False,
    track: Annotated[Path | None, unless("also write the undisturbed tracks as CSV")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="print report.json instead")] = False,
    explain: Explain = False,
    preview: Preview = False,
    only: Only = None,
    shot: Alone = None,
    no_mend: NoMend = False,
    write: Write = False,
    allow_outside: Outside = False,
) -> None:
    """Fly and judge every shot of a site.

    Prints the answer and writes report.json; then flies, for each shot that is not go, the nearest
    changes until some work; then draws map and pictures. The exit code carries the verdict.
    """
    from shotplan import output
    from shotplan.cli import drawing
    from shotplan.model.verdict import EXIT_CODES
    from shotplan.outing import read
    from shotplan.output import folder

    pictures = _wanted(only, preview)
    old = _old(site, no_mend=no_mend, force=force) if write else ""
    outing = read(site, allow_outside=allow_outside)
    if shot is not None:
        one_of("--shot", shot, (s.name for s in outing.shots))
    place = site / "out" if out is None else out
    _refuse(track, force=force)
    before = _there(place)
    names = output.names_of(pictures)
    with folder.writing(place, output.names_of(output.ALL), force=force) as put:
        made = drawing.flown(outing, shot)
        _put_track(made, track, force=force)
        made = _answered(made, names, put, as_json=as_json, mending=not no_mend)
        if write:
            _write(site, made, old, force=force)
        if not as_json:
            _next(made, site, names, explain=explain)
        drawing.draw(made, pictures, put, place)
    _say_gone(before - _there(place), site)
    raise typer.Exit(EXIT_CODES[made.verdict])


def _there(place: Path) -> set[str]:
    return {p.name for p in place.iterdir() if p.name[0] != "."} if place.is_dir() else set()


def _say_gone(names: set[str], site: Path) -> None:
    """What an older run had put there and this one did not make anew."""
    from shotplan.cli import show
    from shotplan.output import BRIEF

    if names:
        how = f": shotplan brief {site} makes the brief anew" if names & {*BRIEF.files} else ""
        show.aside(f"of an older plan and gone: {', '.join(sorted(names))}{how}")


def _refuse(track: Path | None, *, force: bool) -> None:
    """`BadInput` where the table of tracks would overwrite somebody else's file."""
    from shotplan.output import folder
    from shotplan.output.take_along import track as tracks

    if track is not None and not force:
        folder.refuse_foreign_file(track, tracks.HEADER.encode("ascii"))


def _put_track(made: Plan, track: Path | None, *, force: bool) -> None:
    """The table of tracks, where it is asked for."""
    from shotplan.output import folder
    from shotplan.output.take_along import track as tracks

    if track is not None:
        ours = tracks.HEADER.encode("ascii")
        folder.write_file(track, tracks.text(made).encode("utf-8"), ours=ours, force=force)


def _old(site: Path, *, no_mend: bool, force: bool) -> str:
    """The site file as text with its line ends; that the new one may be written is asked before
    anything is flown."""
    from shotplan.errors import Problems
    from shotplan.outing import SITE_FILE
    from shotplan.output import folder
    from shotplan.output.answers import site_file

    problems = Problems()
    if no_mend:
        problems.add("--write", "it writes the changes that --no-mend leaves out; give one of them")
    problems.raise_if_any()
    if not force:
        names, by = [site_file.MENDED], folder.MENDED_MANIFEST
        folder.refuse_foreign(site, names, by=by, instead="rename it")
    path = site / SITE_FILE
    return path.read_bytes().decode("utf-8-sig") if path.is_file() else ""


def _write(site: Path, made: Plan, old: str, *, force: bool) -> None:
    """Write the mended site file where there is a change, and say so."""
    from shotplan.cli import show
    from shotplan.output import folder
    from shotplan.output.answers import site_file

    name, by = site_file.MENDED, folder.MENDED_MANIFEST
    some = any(shot.mended and shot.mended.changes for shot in made)
    older = (site / name).exists()
    files = {name: site_file.mended(made, old).encode("utf-8")} if some else {}
    with folder.writing(site, (name,), force=force, by=by) as put:
        put(files)
    if some:
        show.aside(f"wrote {name} to {site}")
    else:
        gone = "; the older one is gone" if older else ""
        show.aside(f"no {name}: no shot has a change to write{gone}")


def _wanted(only: str | None, preview: bool) -> tuple[Output, ...]:
    """What is drawn after the answer, in the order of `OUTPUTS`."""
    from shotplan.output import OUTPUTS, PREVIEW, REPORT

    offered = {o.name: o for o in (*OUTPUTS, PREVIEW)}
    said = [name.strip() for name in only.split(",")] if only else []
    for name in said:
        one_of("--only", name, (*offered, NONE))
    some = {*said, PREVIEW.name} if preview else set(said)
    every = only is None
    return tuple(
        o
        for o in offered.values()
        if o is not REPORT and (o.name in some or (every and o is not PREVIEW))
    )


def _answered(made: Plan, files: Sequence[str], put: Put, *, as_json: bool, mending: bool) -> Plan:
    """The plan with what would mend it. Its answer is printed and its report stands before that is
    looked for, but as JSON: that is read once."""
    from shotplan.cli import drawing
    from shotplan.output import REPORT

    if mending and as_json:
        made = drawing.mended(made)
    put(REPORT.make(made), files)
    _answer(made, as_json=as_json)
    if mending and not as_json:
        made = drawing.mended(made, written=True)
        put(REPORT.make(made), files)
    return made


def _answer(made: Plan, *, as_json: bool) -> None:
    """Print it; whoever reads it as JSON need not wait for the pictures."""
    from shotplan.cli import show
    from shotplan.output import report
    from shotplan.output.screen import answered

    out = sys.stdout
    if as_json:
        show.write_text(report.text(made))
    else:
        show.screen(answered(made))
    out.flush()
    if as_json and out is sys.__stdout__:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)


def _next(made: Plan, site: Path, files: Sequence[str], *, explain: bool) -> None:
    """Print the changes that work, and what to open; with `explain` everything."""
    from shotplan.cli import show
    from shotplan.output.screen import what_next

    show.screen(what_next(made, str(site), files))
    if explain:
        show.answer(made)
        show.explain(made)
