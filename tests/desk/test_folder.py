"""Saving: all or nothing, the last version beside, what others wrote is never overwritten."""

from __future__ import annotations

from pathlib import Path

import pytest

from shotplan.desk import folder
from shotplan.desk.folder import ChangedMeanwhile, Texts, load, save
from shotplan.errors import BadInput
from shotplan.files.geojson_edit import EMPTY
from tests.worlds import write_site


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return write_site(tmp_path / "site")


def other(texts: Texts) -> Texts:
    return texts._replace(site=texts.site + "# more\n", ground=texts.ground + "\n")


def names(site: Path) -> set[str]:
    return {p.name for p in site.iterdir()}


def test_both_are_saved_and_the_last_version_stands_beside(site: Path) -> None:
    old = load(site)
    save(site, old, other(old))
    assert load(site) == other(old)
    assert (site / "site.toml.before").read_text("utf-8") == old.site
    assert (site / "ground.geojson.before").read_text("utf-8") == old.ground
    assert names(site) == {
        "site.toml", "ground.geojson", "site.toml.before", "ground.geojson.before"
    }  # fmt: skip


def test_what_did_not_change_is_not_written(site: Path) -> None:
    old = load(site)
    save(site, old, old._replace(site=old.site + "# more\n"))
    assert "ground.geojson.before" not in names(site)


@pytest.mark.parametrize("name", ["site.toml", "ground.geojson"])
def test_a_file_changed_meanwhile_is_not_overwritten(site: Path, name: str) -> None:
    old = load(site)
    theirs = (site / name).read_bytes() + b"\n"
    (site / name).write_bytes(theirs)
    with pytest.raises(ChangedMeanwhile) as found:
        save(site, old, other(old))
    assert found.value.names == (name,)
    assert (site / name).read_bytes() == theirs
    assert names(site) == {"site.toml", "ground.geojson"}
    save(site, old, other(old), over=load(site).sums)
    assert load(site) == other(old)
    assert (site / f"{name}.before").read_bytes() == theirs


def test_a_deleted_and_a_new_file_are_changes(site: Path) -> None:
    old = load(site)
    (site / "ground.geojson").unlink()
    assert folder.changed(site, old.sums) == ("ground.geojson",)
    gone = load(site)
    assert gone.ground == ""
    save(site, gone, gone._replace(ground=EMPTY))
    assert (site / "ground.geojson").read_text("utf-8") == EMPTY


@pytest.mark.parametrize("step", range(8))
def test_a_kill_between_leaves_whole_files(
    site: Path, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    """The process ends before one of the steps on disk: each file is whole, the old or the new, and
    whoever opens the folder next has both of one version."""

    class Killed(BaseException):
        pass

    old, count = load(site), 0
    replace = Path.replace

    def dies(self: Path, target: Path) -> Path:
        nonlocal count
        count += 1
        if count > step:
            raise Killed
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", dies)
    monkeypatch.setattr(Path, "unlink", lambda self, missing_ok=False: None)  # nobody cleans up
    killed = False
    try:
        save(site, old, other(old))
    except Killed:
        killed = True
    monkeypatch.undo()
    assert killed == (step < 5)
    now = load(site)
    assert now.site in (old.site, other(old).site)
    assert now.ground in (old.ground, other(old).ground)
    folder.finish(site)
    assert load(site) in (old, other(old))
    listed = step >= 3  # both copies and the list stand there: the saving is finished
    assert load(site) == (other(old) if listed else old)


def test_a_list_from_elsewhere_moves_nothing(site: Path, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("x")
    old = load(site)
    (site / folder.LIST).write_text('{"site.toml": ["../secret", "00"], "a": 3}')
    folder.finish(site)
    assert load(site) == old
    (site / folder.LIST).write_text('{"site.toml": ["../secret", "00"]}')
    folder.finish(site)
    assert load(site) == old
    assert (tmp_path / "secret").exists()


def test_two_at_once_do_not_mix(site: Path) -> None:
    from shotplan.files.lock import alone_in

    old = load(site)
    with alone_in(site, "wait"), pytest.raises(BadInput, match="another shotplan"):
        save(site, old, other(old))
    assert load(site) == old


def test_what_is_no_text_is_said(site: Path) -> None:
    (site / "ground.geojson").write_bytes(b"\xff\xfe{")
    with pytest.raises(BadInput, match="UTF-8"):
        load(site)
