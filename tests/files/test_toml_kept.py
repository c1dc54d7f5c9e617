"""Keys laid into a file: everything else stays, sign by sign."""

from __future__ import annotations

import difflib
import tomllib

import pytest

from shotplan.files.toml_kept import with_keys

PLAIN = """\
# Mine.
format = 1 # of this file
name = "A [hill]"
text = '''
[not a table]
'''
list = [
  1,
]
# terrain = "later.tif"

# What I looked for:
[survey]
looked_for = []

[[shot]]
name = "x"
"""


@pytest.mark.parametrize(
    "old", [PLAIN, PLAIN.replace("\n", "\r\n"), "\ufeff" + PLAIN, "format = 1\n\n\n", "format = 1"]
)
def test_only_lines_are_added_and_nothing_else_changes(old: str) -> None:
    keys = {"terrain": 'a "b".tif', "terrain_error_m": 0.2}
    new = with_keys(old, keys, "by a survey")
    assert tomllib.loads(new.lstrip("\ufeff")) == {**tomllib.loads(old.lstrip("\ufeff")), **keys}
    # An independent second way: the line diff has additions only (but for a line end at the end).
    changed = [d for d in difflib.ndiff(old.splitlines(), new.splitlines()) if d[0] in "+-"]
    assert len(changed) == 2
    assert all(d.startswith("+ terrain") and d.endswith(" # by a survey") for d in changed)
    assert new.startswith("\ufeff") == old.startswith("\ufeff")
    assert ("\r\n" in new) == ("\r\n" in old)
    assert not set(new.replace("\r\n", "")) & {"\r"}


def test_it_goes_behind_the_last_key_and_before_comments_of_the_next_table() -> None:
    lines = with_keys(PLAIN, {"terrain": "t.tif"}).splitlines()
    at = lines.index('terrain = "t.tif"')
    assert lines[at - 1] == "]"
    assert lines[at + 1] == '# terrain = "later.tif"'


def test_nothing_to_add_changes_nothing() -> None:
    assert with_keys(PLAIN, {}) is PLAIN
