"""Where features come from: the member `sources` of ground.geojson (RFC 7946, section 6.1)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shotplan.errors import Problems
from shotplan.files.tables import Date, Text, table
from shotplan.files.words import shown
from shotplan.model.site import Origin

MOST = 50


@dataclass(frozen=True, kw_only=True)
class SourceTable:
    """One of them."""

    source: Text
    credit: Text | None = None
    on: Date | None = None
    read: Date | None = None
    file: Text | None = None


def sources_of(raw: object, where: str, problems: Problems) -> tuple[Origin, ...]:
    """Each that can be understood; `raw` as the file has it, None where it has none."""
    if raw is None:
        return ()
    if not isinstance(raw, list) or len(raw) > MOST:
        problems.add(f"{where}: sources", f"got {shown(raw)}; wanted a list of at most {MOST}")
        return ()
    return tuple(
        found
        for number, one in enumerate(raw, start=1)
        if (found := _source(one, f"{where}: sources {number}", problems)) is not None
    )


def _source(raw: object, where: str, problems: Problems) -> Origin | None:
    if not isinstance(raw, Mapping):
        problems.add(where, f"got {shown(raw)}; wanted an object with source, credit, on, file")
        return None
    says = table(SourceTable, raw, where, problems)
    if says is None:
        return None
    return Origin(
        source=says.source, credit=says.credit or "", on=says.on, read=says.read,
        file=says.file or "",
    )  # fmt: skip


def imported(id_: str, sources: tuple[Origin, ...]) -> bool:
    """Whether a feature of this id was brought by one of them."""
    return any(id_.startswith(f"{one.source}-") for one in sources)
