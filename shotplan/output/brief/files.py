"""The brief's files: on paper, for the phone, and a page for the landowner."""

from __future__ import annotations

from shotplan.judging.judged import Plan
from shotplan.output.brief import brief, landowner, page, pdf

FILES = ("brief.pdf", "brief.html", "landowner.pdf")


def output(plan: Plan, paper: str = "a4") -> dict[str, bytes]:
    """Their names and bytes; `paper` a4 or letter."""
    said, pictures = brief.brief(plan), brief.pictures(plan)
    owner = {"map.png": landowner.picture(plan)}
    return {
        "brief.pdf": pdf.brief(said, pictures, paper),
        "brief.html": page.html(said, pictures).encode("utf-8"),
        "landowner.pdf": pdf.landowner(landowner.page(plan), owner, paper),
    }
