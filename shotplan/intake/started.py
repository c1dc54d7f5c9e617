"""A site folder that is started and not yet written."""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from shotplan.files import together


@dataclass(frozen=True, kw_only=True)
class Started:
    """`texts` by name, `copies` name -> where it is copied from, `files` that surveys brought;
    `changed` the texts that stand in the folder already, as they were given; `guesses` to be
    replaced or confirmed, a sentence each; `said` title -> what each survey knew."""

    texts: Mapping[str, str]
    copies: Mapping[str, Path]
    guesses: tuple[str, ...] = ()
    files: Mapping[str, bytes] = field(default_factory=dict)
    changed: frozenset[str] = frozenset()
    said: Mapping[str, Sequence[str]] = field(default_factory=dict)

    @property
    def names(self) -> set[str]:
        """What is in it, without what nobody looks at."""
        return {n for n in (*self.texts, *self.files, *self.copies) if not n.startswith(".")}

    def write(self, folder: Path) -> None:
        """Into a folder in which none of it is yet; of what is there already nothing is touched
        but a drawing that was given, and that stays beside the new one."""
        folder.mkdir(parents=True, exist_ok=True)
        over = {n: t for n, t in self.texts.items() if n in self.changed and (folder / n).exists()}
        for name, text in self.texts.items():
            if name not in over:
                with (folder / name).open("x", encoding="utf-8", newline="") as file:
                    file.write(text)
        for name, data in self.files.items():
            if (folder / name).is_file() and (folder / name).read_bytes() == data:
                continue  # given, and lies there already
            with (folder / name).open("xb") as raw:
                raw.write(data)
        for name, source in self.copies.items():
            if not _same(folder / name, source):
                with source.open("rb") as read, (folder / name).open("xb") as written:
                    shutil.copyfileobj(read, written)
        was = {n: together.seen(folder / n) for n in over}
        together.put(folder, {n: t.encode("utf-8") for n, t in over.items()}, was=was, keep=was)


def _same(one: Path, other: Path) -> bool:
    return one.exists() and one.samefile(other)
