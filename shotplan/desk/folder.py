"""A site folder while somebody draws on it: what was read, whether it is still so, and saving.

Saving is all or nothing for both files: new bytes are written aside, a list of them is put down,
and only then do they take their places, each old file kept beside as `NAME.before`. Whoever opens
the folder after a kill in between finishes from the list (`finish`).
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from shotplan.errors import Problems
from shotplan.files.aside import aside
from shotplan.files.disk import MEGABYTE, read_bytes
from shotplan.files.geojson_edit import EMPTY
from shotplan.files.lock import alone_in
from shotplan.files.words import shown
from shotplan.outing import SITE_FILE

GROUND = "ground.geojson"
BEFORE = ".before"
LIST = ".saving-by-shotplan.json"
ASIDE = ".unfinished-by-shotplan"
LARGEST = 50 * MEGABYTE
MARK = "\ufeff"


class Texts(NamedTuple):
    """Both files as text; `ground_name` as site.toml names it."""

    site: str
    ground: str
    ground_name: str

    @property
    def sums(self) -> dict[str, str]:
        """name -> what it is known by ("" there is no such file)."""
        return {SITE_FILE: _sum(self.site), self.ground_name: _sum(self.ground)}


class ChangedMeanwhile(Exception):
    """Somebody else wrote these files since they were read."""

    def __init__(self, names: tuple[str, ...]) -> None:
        """Keep their names."""
        super().__init__(", ".join(names))
        self.names = names


def load(folder: Path, *, allow_outside: bool = False) -> Texts:
    """What stands there; `BadInput` where one of the files cannot be read as text, or lies outside
    the folder and that is not allowed."""
    problems = Problems()
    site = _text(folder / SITE_FILE, SITE_FILE, problems)
    name = _ground_name(site)
    for one in (SITE_FILE, name):
        inside = (folder / one).resolve().is_relative_to(folder.resolve())
        if not (allow_outside or inside):
            problems.add(SITE_FILE, f"{shown(one)} lies outside the folder, where nothing is "
                         "written; copy it in, or say --allow-outside")  # fmt: skip
    problems.raise_if_any()
    there = (folder / name).exists()
    ground = _text(folder / name, name, problems) if there else ""
    problems.raise_if_any()
    return Texts(site, ground, name)


def _text(path: Path, name: str, problems: Problems) -> str:
    data = read_bytes(path, LARGEST, name, problems) or b""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        problems.add(name, f"is not UTF-8 text (byte {error.start}): save it as UTF-8")
        return ""


def _ground_name(site: str) -> str:
    try:
        said = tomllib.loads(site.removeprefix(MARK)).get("ground", GROUND)
    except ValueError:
        said = GROUND
    return said if isinstance(said, str) and said else GROUND


def drawn(texts: Texts) -> str:
    """The ground file's text, an empty drawing where there is none."""
    return texts.ground.removeprefix(MARK) or EMPTY


def changed(folder: Path, known: Mapping[str, str]) -> tuple[str, ...]:
    """Names of the files that are not what they are `known` by."""
    return tuple(name for name, sum_ in known.items() if _sum_on_disk(folder / name) != sum_)


def save(folder: Path, old: Texts, new: Texts, *, over: Mapping[str, str] | None = None) -> None:
    """Put the new texts in the place of the old ones; `ChangedMeanwhile` where one of the files is
    not as it was read, or as it is known to be `over` which to save: nothing is then written."""
    known = dict(old.sums if over is None else over)
    files = {SITE_FILE: (old.site, new.site), new.ground_name: (old.ground, new.ground)}
    with alone_in(folder, "wait"):
        finish(folder)
        others = changed(folder, known)
        if others:
            raise ChangedMeanwhile(others)
        wanted = {
            name: text
            for name, (was, text) in files.items()
            if text and (text != was or known[name] != _sum(was))
        }
        _put(folder, wanted)


def _put(folder: Path, wanted: Mapping[str, str]) -> None:
    listed: dict[str, tuple[str, str]] = {}
    asides: list[Path] = []
    try:
        for name, text in wanted.items():
            path = (folder / name).resolve()
            if path.exists():
                _written(path.with_name(path.name + BEFORE), path.read_bytes())
            new = aside(path, text.encode("utf-8"), ASIDE, on_disk=True)
            asides.append(new)
            listed[name] = (new.name, _sum(text))
        if not listed:
            return
        _written(folder / LIST, json.dumps(listed).encode("utf-8"))
        finish(folder)
    finally:
        for new in asides:
            new.unlink(missing_ok=True)


def finish(folder: Path) -> None:
    """Put in place what a listed saving left aside, and take the list away."""
    path = folder / LIST
    try:
        listed = json.loads(path.read_text("utf-8"))
        steps = [(folder / n, str(new), str(sum_)) for n, (new, sum_) in listed.items()]
    except (OSError, ValueError, TypeError, AttributeError):
        return
    for link, aside_name, sum_ in steps:
        target = link.resolve()
        new = target.with_name(Path(aside_name).name)
        if ASIDE in new.name and _sum_on_disk(new) == sum_:
            new.replace(target)
    path.unlink(missing_ok=True)


def _written(path: Path, data: bytes) -> None:
    new = aside(path, data, ASIDE, on_disk=True)
    try:
        new.replace(path)
    finally:
        new.unlink(missing_ok=True)


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest() if text else ""


def _sum_on_disk(path: Path) -> str:
    try:
        data = path.read_bytes()
    except OSError:
        return ""
    return hashlib.sha256(data).hexdigest() if data else ""
