"""What comes with the package: sites, aircraft classes, rule packs."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from shotplan.errors import Problems
from shotplan.files.disk import is_file
from shotplan.files.words import listed, nearest_name, shown

PACKAGE = Path(__file__).resolve().parent.parent


def bundled_sites() -> dict[str, Path]:
    """Name -> site folder, sorted: in the package (a wheel), else beside it (a checkout)."""
    inside, beside = PACKAGE / "bundled_sites", PACKAGE.parent / "sites"
    root = inside if inside.is_dir() else beside
    return {p.parent.name: p.parent for p in sorted(root.glob("*/site.toml"))}


def about_sites() -> dict[str, str]:
    """Name -> what a bundled site is, in one sentence: the first of its ABOUT.md, "" without."""
    return {name: _first_sentence(folder / "ABOUT.md") for name, folder in bundled_sites().items()}


def _first_sentence(about: Path) -> str:
    if not about.is_file():
        return ""
    _, _, text = about.read_text("utf-8").partition("\n")
    first, stop, _ = " ".join(text.split()).partition(". ")
    return f"{first}{stop.strip()}"


def aircraft_files() -> dict[str, Path]:
    """Id -> TOML of every bundled aircraft class, sorted."""
    return _by_stem(PACKAGE / "aircraft" / "classes")


def pack_files() -> dict[str, Path]:
    """Id -> TOML of every bundled rule pack, sorted."""
    return _by_stem(PACKAGE / "rules" / "packs")


def _by_stem(folder: Path) -> dict[str, Path]:
    return {p.stem: p for p in sorted(folder.glob("*.toml"))}


def named_file(
    name: str, bundled: Mapping[str, Path], folder: Path, where: str, problems: Problems
) -> Path | None:
    """The TOML that `name` stands for: a bundled id, or a path relative to `folder`."""
    if name in bundled:
        return bundled[name]
    if name.endswith(".toml") or "/" in name or "\\" in name:
        path = folder / name
        return path if is_file(path, where, problems) else None
    problems.add(
        where,
        f"got {shown(name)}; wanted {listed(bundled)}, or the path of your own .toml"
        + nearest_name(name, bundled),
    )
    return None
