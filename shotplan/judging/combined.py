"""Cautions of more than one kind at once."""

from __future__ import annotations

from collections.abc import Iterable

from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Group

SOURCE = "practice of personal minimums, FAA risk management handbooks, at second hand"


def sentence(verdicts: Iterable[tuple[Group, Verdict]]) -> str:
    """What an examiner would say of a shot whose checks found `verdicts`, each with the group its
    check is about: "" unless two groups or more are caution or worse."""
    wary = {group: None for group, verdict in verdicts if verdict >= Verdict.CAUTION}
    if len(wary) < 2:
        return ""
    *most, last = wary
    return (
        f"{len(wary)} kinds of caution at once ({', '.join(most)} and {last}): each may be small, "
        "together they are not. Remove all but 1 of them, or leave this shot for another day "
        f"({SOURCE})"
    )
