"""`shotplan survey`: what a site folder holds, what is missing, what is wrong."""

from __future__ import annotations

from shotplan.cli.options import AsJson, SiteFolder, outing_of


def survey(
    site: SiteFolder,
    as_json: AsJson = False,
) -> None:
    """Say what a site folder holds and lacks."""
    from shotplan.cli import show
    from shotplan.output.answers.inventory import inventory

    found = inventory(outing_of(site))
    if as_json:
        show.write_json(found._asdict())
    else:
        show.inventory(found)
