from __future__ import annotations

from pathlib import Path

import pytest

from shotplan.errors import Problems
from shotplan.files import bundled


def test_sites_in_the_package_come_before_those_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "shotplan"
    for folder in ("sites/a", "sites/maps", "shotplan"):
        (tmp_path / folder).mkdir(parents=True)
    (tmp_path / "sites/a/site.toml").touch()
    monkeypatch.setattr(bundled, "PACKAGE", package)
    assert bundled.bundled_sites() == {"a": tmp_path / "sites/a"}
    (package / "bundled_sites/b").mkdir(parents=True)
    (package / "bundled_sites/b/site.toml").touch()
    assert bundled.bundled_sites() == {"b": package / "bundled_sites/b"}


def test_classes_and_packs_are_there() -> None:
    assert set(bundled.aircraft_files()) >= {"folding-light", "folding-all-round", "unsensed"}
    assert set(bundled.pack_files()) >= {"eu-open-a1", "us-part107", "ca-basic"}


def test_named_file(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text("a = 1")
    known, problems = {"wide": Path("/x/wide.toml")}, Problems()
    assert bundled.named_file("wide", known, tmp_path, "w", problems) == known["wide"]
    assert bundled.named_file("own.toml", known, tmp_path, "w", problems) == tmp_path / "own.toml"
    assert len(problems) == 0
    assert bundled.named_file("wdie", known, tmp_path, "w", problems) is None
    assert bundled.named_file("sub/no.toml", known, tmp_path, "w", problems) is None
    assert [p.what for p in problems.found] == [
        'got "wdie"; wanted "wide", or the path of your own .toml; did you mean "wide"?',
        f"there is no such folder: {tmp_path / 'sub'}",
    ]
