"""A plan made, and what is made of it after the answer: drawn side by side, and said."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from shotplan import plan as planning
from shotplan.advice import mend
from shotplan.cli import show
from shotplan.cli.progress import progress
from shotplan.judging.judged import Plan
from shotplan.outing import Outing
from shotplan.output import REPORT, Failed, Output, names_of, put_each, scripts
from shotplan.output.folder import Put


def flown(outing: Outing, shot: str | None = None) -> Plan:
    """The plan, of one `shot` alone where it is named."""
    with progress(len(outing.shots)) as tell:
        return planning.make(outing, tell, shot=shot)


def mended(made: Plan, *, written: bool = False) -> Plan:
    """The plan with what would mend it; `written`: its report stands already, which is said where
    somebody stops the search."""
    with progress(len(made.shots)) as tell:
        try:
            return mend.mended(made, tell)
        except KeyboardInterrupt:
            if written:
                show.aside("stopped while looking for changes; report.json is whole, without them")
            raise


def draw(made: Plan, pictures: Sequence[Output], put: Put, place: Path) -> None:
    """Draw, and say what stands there and what is missing."""
    written, failed, left = [*REPORT.files], list[Failed](), list(pictures)
    sys.stdout.flush()
    with progress(len(pictures)) as tell, closing(put_each(made, pictures, put)) as drawn:
        try:
            while left:
                tell(f"drawing {left[0].name}")
                files = next(drawn)
                del left[0]
                failed += [files] if isinstance(files, Failed) else []
                written += [] if isinstance(files, Failed) else files
        except KeyboardInterrupt:
            there = f"{', '.join(sorted(written))} in {place} are whole"
            show.aside(f"stopped; {there}; not drawn: {', '.join(names_of(left))}")
            raise
    first = "; open map.html first" if "map.html" in written else ""
    show.aside(f"wrote {', '.join(sorted(written))} to {place}{first}")
    if boxes := scripts.boxed(made.outing):
        show.aside(boxes)
    for one in failed:
        what = f"{type(one.error).__name__}: {one.error}"
        show.aside(f"could not make {', '.join(one.output.files)}: {what}; the rest stands")
