"""`shotplan survey`: what a site folder holds, what is missing, what is wrong."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from shotplan.cli.options import AsJson, Force, Outside, SiteFolder, goes, outing_of


def survey(
    site: SiteFolder,
    out: Annotated[Path | None, goes("survey.png goes")] = None,
    force: Force = False,
    as_json: AsJson = False,
    allow_outside: Outside = False,
) -> None:
    """Say what a site folder holds and lacks.

    What is missing comes in the order worth giving; writes survey.png: what is drawn, where
    somebody looked, and where nobody did.
    """
    from shotplan.cli import show
    from shotplan.output import folder
    from shotplan.output.answers import survey_picture
    from shotplan.output.answers.inventory import inventory

    outing = outing_of(site, allow_outside=allow_outside)
    found = inventory(outing)
    place = site / "out" if out is None else out
    if not force:
        folder.refuse_foreign(place, ["survey.png"], by=folder.SURVEY_MANIFEST)
    if as_json:
        show.write_json(found._asdict())
    else:
        show.inventory(found)
    picture = survey_picture.png(outing)
    folder.write(place, {"survey.png": picture}, force=force, by=folder.SURVEY_MANIFEST)
    show.aside(f"wrote survey.png to {place}")
