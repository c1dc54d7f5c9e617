"""XML from strangers: what is no such file, or makes a parser work for it, is refused unparsed."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from xml.etree import ElementTree as ET

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, read_text
from shotplan.files.words import one_line

_QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"|<[^>]*>")
LARGEST = 50 * MEGABYTE
_PROLOGUE = re.compile(r"\s*(?:<\?.*?\?>|<!--.*?-->|\s)*", re.DOTALL)


def xml_text(path: Path, root: str, what: str, where: str, problems: Problems) -> str | None:
    """The text of a file whose outermost tag is `root`; None where it is not (problems say why).
    `what`: the name of the format."""
    text = read_text(path, LARGEST, where, problems)
    if text is None:
        return None
    begin = text[_PROLOGUE.match(text).end() :][:200]  # type: ignore[union-attr]
    if re.match(r"<(!doctype html|html)", begin, re.IGNORECASE):
        problems.add(where, f"is a web page, not a {what} file: download the file itself")
    elif "<!DOCTYPE" in text or "<!ENTITY" in text:
        problems.add(
            where, f"has a DOCTYPE or ENTITY, which no {what} file needs: export it afresh"
        )
    elif not re.match(rf"<([\w.-]+:)?{root}[\s>/]", begin):
        problems.add(where, f"is not {what}: it does not begin with <{root} …>")
    else:
        return text
    return None


def xml_tree(path: Path, root: str, what: str, where: str, problems: Problems) -> ET.Element | None:
    """The same, parsed, the tags without their namespaces."""
    text = xml_text(path, root, what, where, problems)
    if text is None:
        return None
    try:
        tree = ET.fromstring(text)
    except (ET.ParseError, ValueError) as error:
        problems.add(where, f"is not {what}: {at_line(error)}")
        return None
    for element in tree.iter():
        element.tag = element.tag.rpartition("}")[2]
    return tree


def at_line(error: Exception) -> str:
    """What a parser says, without what it quotes of the file."""
    return _QUOTED.sub("…", one_line(str(error)))


def number(text: str | None) -> float:
    """A decimal number as it is written; NaN where there is none."""
    try:
        return float(text or "nan")
    except ValueError:
        return float("nan")


def moment(text: str | None) -> datetime | None:
    """A time in ISO 8601 as it is written; None where there is none."""
    try:
        return datetime.fromisoformat((text or "").strip())
    except ValueError:
        return None
