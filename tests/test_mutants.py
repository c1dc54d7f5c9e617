"""The mutation script changes one thing at a time, and finds the tests that mirror a file."""

from __future__ import annotations

import ast
from pathlib import Path

from tests.mutants import mirrors_of, mutants, mutated

SOURCE = '''
def most(values: list[int] | None, scale: float = 2.0) -> float:
    """Words - not numbers."""
    if values is None or not values:
        return -1.0
    return scale * max(values) + values[0]
'''


def test_every_mutant_differs_from_the_source_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "a.py").write_text(SOURCE)
    plain = ast.unparse(ast.parse(SOURCE)).splitlines()
    found = mutants(tmp_path, "a.py")
    for mutant in found:
        changed = mutated(tmp_path, mutant).splitlines()
        assert sum(a != b for a, b in zip(plain, changed, strict=True)) == 1, mutant.says
    said = {m.says for m in found}
    assert {"max  ->  min", "not values  ->  values", "2.0  ->  2.4", "0  ->  1"} <= said
    assert len({m.where for m in found}) == len(found)
    assert "list[int] | None" in mutated(tmp_path, found[0])


def test_a_mutant_is_drawn_alike_where_its_code_only_moved(tmp_path: Path) -> None:
    (tmp_path / "a.py").write_text(SOURCE)
    (tmp_path / "b.py").write_text(f"import math\n\n{SOURCE}")
    before, after = (mutants(tmp_path, name) for name in ("a.py", "b.py"))
    assert [m.drawn(1) for m in before] == [m.drawn(1) for m in after]
    assert [m.line for m in before] != [m.line for m in after]


def test_the_tests_of_a_file_are_those_that_mirror_it() -> None:
    root = Path(__file__).resolve().parent.parent
    assert mirrors_of(root, "shotplan/checks/battery.py") == (
        "tests/checks/test_battery.py",
        "tests/checks/test_contract.py",
    )
    assert mirrors_of(root, "shotplan/checks/return_/check.py")[0] == "tests/checks/test_return.py"
    assert "tests/judging" in mirrors_of(root, "shotplan/judging/corridor.py")
