"""CSV that a spreadsheet may open: text that would be run as a formula is told to be text."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection

_RUNS = ("=", "+", "-", "@", "\t", "\n")  # OWASP, "CSV Injection" (from memory)


def guarded(text: str, columns: Collection[str]) -> str:
    """CSV `text`, its lines ended by line feeds, with the cells of the text `columns` made safe.

    One that begins as a formula does gets a `'` before it, and each stands in quotes, so that a
    `;` in it parts no cells either. Other columns (numbers may begin with `-`) stay as they are.
    """
    csv.field_size_limit(max(csv.field_size_limit(), len(text)))  # a name may be of any length
    # A lone carriage return stands in a name: writers leave it bare, readers end the line there.
    rows = csv.reader(io.StringIO(text.replace("\r", "·"), newline=""))
    header = next(rows)
    named = [title in columns for title in header]
    lines = [",".join(header)]
    for row in rows:
        cells = zip(row, named, strict=True)
        lines.append(",".join(_quoted(cell) if is_text else cell for cell, is_text in cells))
    return "\n".join(lines) + "\n"


def _quoted(cell: str) -> str:
    if not cell:
        return cell
    told = f"'{cell}" if cell.startswith(_RUNS) else cell
    return '"' + told.replace('"', '""') + '"'
