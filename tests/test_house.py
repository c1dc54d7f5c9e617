"""The house keeps its own rules: rooms, listed files, nothing left undone, no idle assertion."""

from __future__ import annotations

import ast
import io
import re
import tokenize
import tomllib
from collections.abc import Iterator
from pathlib import Path

from shotplan.checks import CHECKS
from shotplan.output import ALL, OUTPUTS
from shotplan.styles import STYLES
from tests.__main__ import room

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "shotplan"
ROOMS = {
    "cli", "output", "aids", "advice", "judging", "site", "ride", "aircraft", "rules", "styles",
    "flight", "checks", "intake", "scene", "files", "model", "kernels", "desk",
}  # fmt: skip
LONGEST_FILE, LONGEST_FUNCTION = 300, 45  # lines
TOO_LONG: dict[str, str] = {}  # "cli/new.py" or "cli/new.py: new" -> why it may be longer
LOOSE = {
    "__init__.py",
    "plan.py",
    "flying.py",
    "outing.py",
    "side_by_side.py",
    "units.py",
    "errors.py",
}


def sources(folder: Path) -> Iterator[Path]:
    """Every Python file below a folder."""
    yield from sorted(p for p in folder.rglob("*.py") if "__pycache__" not in p.parts)


def named(path: Path) -> str:
    """A path as people say it."""
    return path.relative_to(ROOT).as_posix()


def test_every_file_belongs_to_a_room() -> None:
    for path in sources(PACKAGE):
        first, *rest = path.relative_to(PACKAGE).parts
        assert first in (ROOMS if rest else LOOSE), f"{named(path)} belongs to no room"
        assert len(rest) <= 2, f"{named(path)}: a sub-room has no rooms"


def test_every_room_is_under_the_import_contract() -> None:
    config = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    contracts = {c["id"]: c for c in config["tool"]["importlinter"]["contracts"]}
    layers = {room.strip() for layer in contracts["layers"]["layers"] for room in layer.split("|")}
    there = {p.name for p in PACKAGE.iterdir() if (p / "__init__.py").is_file()}
    there |= {p.stem for p in PACKAGE.glob("*.py")} - {"__init__", "__main__"}
    assert contracts["layers"]["exhaustive"] is True
    assert there <= layers


def test_files_and_functions_are_short() -> None:
    """A function is as long as all of it, inner functions too."""
    found: dict[str, int] = {}
    for path in sources(PACKAGE):
        name, text = path.relative_to(PACKAGE).as_posix(), path.read_text("utf-8")
        found |= {name: text.count("\n")} if text.count("\n") > LONGEST_FILE else {}
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                lines = (node.end_lineno or node.lineno) - node.lineno + 1
                found |= {f"{name}: {node.name}": lines} if lines > LONGEST_FUNCTION else {}
    assert {name: lines for name, lines in found.items() if name not in TOO_LONG} == {}
    assert set(TOO_LONG) <= set(found), "an exception that is no longer needed"


def test_one_rooms_tests_are_run_by_its_name() -> None:
    tests = ROOT / "tests"
    assert room("checks") == tests / "checks"
    assert room("output/map") == tests / "output" / "map"
    assert room("checks/wind") == tests / "checks" / "test_wind.py"
    assert room("-k") is room("clearance") is None


def test_what_a_file_offers_to_a_tuple_is_in_it() -> None:
    """A file that says `CHECK = Check(...)`, holds a style or makes files of a plan is listed."""
    for path in sources(PACKAGE):
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        room = path.relative_to(PACKAGE).parts[0]
        tops = ast.parse(path.read_text("utf-8")).body
        made = {ast.unparse(t) for n in tops if isinstance(n, ast.Assign) for t in n.targets}
        functions = {n.name for n in tops if isinstance(n, ast.FunctionDef)}
        if room == "checks" and "CHECK" in made:
            assert module in {c.margins.__module__ for c in CHECKS}, f"{module} is not in CHECKS"
        if room == "output" and "output" in functions:
            makers = {o.make.__module__ for o in (*OUTPUTS, *ALL)}
            assert module in makers, f"{module} is not in OUTPUTS"
        styles = {n.name for n in tops if isinstance(n, ast.ClassDef) and _places(n)}
        if room == "styles" and styles:
            listed = {s.__name__ for s in STYLES if s.__module__ == module}
            assert styles <= listed, f"{module} is not in STYLES"


def _places(kind: ast.ClassDef) -> bool:
    return any(isinstance(n, ast.FunctionDef) and n.name == "place" for n in kind.body)


def test_nothing_is_left_undone() -> None:
    word = re.compile(r"\b(TODO|FIXME|XXX|HACK|NotImplementedError|NotImplemented)\b")
    left = [
        f"{named(path)}:{number}: {line.strip()}"
        for path in sources(PACKAGE)
        for number, line in enumerate(path.read_text("utf-8").splitlines(), start=1)
        if word.search(line)
    ]
    assert left == []


def is_stub(function: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    """Whether a function does nothing but document itself."""
    body = [
        node
        for node in function.body
        if not (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
    ]
    return all(isinstance(node, ast.Pass) for node in body)


def test_no_function_is_a_stub() -> None:
    stubs = []
    for path in sources(PACKAGE):
        tree = ast.parse(path.read_text("utf-8"))
        protocol = {
            method
            for node in ast.walk(tree)
            if isinstance(node, ast.ClassDef) and "Protocol" in ast.unparse(node)
            for method in node.body
        }
        stubs += [
            f"{named(path)}:{node.lineno}: {node.name}"
            for node in ast.walk(tree)
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
            if node not in protocol and is_stub(node)
        ]
    assert stubs == []


def test_no_answer_of_a_comparison_is_dropped() -> None:
    """`numpy.allclose(a, b)` on a line of its own asserts nothing."""
    answers = {"allclose", "isclose", "array_equal", "array_equiv", "all", "any", "isfinite"}
    dropped = [
        f"{named(path)}:{node.lineno}: {ast.unparse(node)[:60]}"
        for path in (*sources(PACKAGE), *sources(ROOT / "tests"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
        if ast.unparse(node.value.func).rpartition(".")[2] in answers
    ]
    assert dropped == []


def test_every_test_asserts_something() -> None:
    idle = []
    for path in sources(ROOT / "tests"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.FunctionDef) and node.name.startswith("test_")):
                continue
            text = ast.unparse(node)
            if not re.search(r"\bassert\b|assert_|raises|must_|agrees|_unchanged", text):
                idle.append(f"{named(path)}:{node.lineno}: {node.name}")
    assert idle == []


def test_no_code_runs_text_and_no_clock_forgets_its_zone() -> None:
    for path in sources(PACKAGE):
        names = {
            token.string
            for token in tokenize.generate_tokens(io.StringIO(path.read_text("utf-8")).readline)
            if token.type == tokenize.NAME
        }
        assert not names & {"utcnow", "eval", "exec"}, named(path)


def test_the_readme_gives_the_command_that_ci_runs() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    assert ".venv/bin/pip install -q -e '.[test]' && .venv/bin/python -m tests" in readme
    assert '/bin/python" -m tests' in (ROOT / ".ci" / "run").read_text("utf-8")
