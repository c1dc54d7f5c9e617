"""`shotplan spots`: where to launch, where the pilot and the spotter should stand."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from shotplan.cli.options import AsJson, Force, Outside, SiteFolder, goes, outing_of

SEARCHES = 3  # steps of a progress bar: launch, pilot, spotter


def spots(
    site: SiteFolder,
    out: Annotated[Path | None, goes("spots.png goes")] = None,
    force: Force = False,
    as_json: AsJson = False,
    allow_outside: Outside = False,
) -> None:
    """Say where to launch, stand and watch from.

    Three proposals each with reasons, beside where they stand now; writes spots.png.
    """
    from shotplan.advice.where_to_stand import where_to_stand
    from shotplan.cli import show
    from shotplan.cli.progress import progress
    from shotplan.output import folder
    from shotplan.output.answers import spots as words
    from shotplan.output.answers import spots_picture

    outing = outing_of(site, allow_outside=allow_outside)
    place = site / "out" if out is None else out
    if not force:
        folder.refuse_foreign(place, ["spots.png"], by=folder.SPOTS_MANIFEST)
    with progress(len(outing.shots) + SEARCHES) as tell:
        found = where_to_stand(outing, tell)
        tell("drawing")
        picture = spots_picture.png(found)
    folder.write(place, {"spots.png": picture}, force=force, by=folder.SPOTS_MANIFEST)
    if as_json:
        show.write_json(words.data(found))
    else:
        show.rows(words.rows(found))
        show.aside(*words.notes())
    show.aside(f"wrote spots.png to {place}")
