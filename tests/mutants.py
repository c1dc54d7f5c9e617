"""How many small errors the tests notice: `python -m tests.mutants shotplan/checks --sample 100`.

Makes one small change at a time (a mutant) in a copy of the checkout, runs the tests that mirror
the changed file, and says whether they fail (killed) or not (survived). The checkout itself is
never touched. A mutant is drawn by what it changes in which function, not by its line or file:
where code only moved, the same seed draws the same mutants before and after.
"""

from __future__ import annotations

import argparse
import ast
import copy
import hashlib
import math
import os
import resource
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).resolve().parent.parent
AT_ONCE = 2
# A mutant's limit in processor seconds: this, and this often what the unchanged code takes.
LEAST_S, TIMES = 30.0, 5.0
BESIDES = {  # tests that look at every file of a room, beside the mirrored one
    "checks": ("tests/checks/test_contract.py",),
    "judging": ("tests/judging",),
}
OTHERWISE = "tests/stories/test_analytic.py"  # with the room's tests, where no test mirrors a file

SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.GtE,
    ast.GtE: ast.Lt,
    ast.Gt: ast.LtE,
    ast.LtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.And: ast.Or,
    ast.Or: ast.And,
}
PAIRS = (("min", "max"), ("minimum", "maximum"), ("nanmin", "nanmax"), ("argmin", "argmax"),
         ("floor", "ceil"), ("any", "all"))  # fmt: skip
NAMES = {a: b for pair in PAIRS for a, b in (pair, pair[::-1])}
UNREAD = {"annotation", "returns", "decorator_list"}  # types and decorators are no behaviour


@dataclass(frozen=True)
class Mutant:
    """One change: the `index`-th place of a file where one can be made."""

    file: str
    index: int
    line: int
    says: str
    where: str  # function, change and how often the same stood before it there

    def drawn(self, seed: int) -> str:
        """The mutants with the lowest ones are the sample."""
        return hashlib.sha256(f"{seed} {self.where}".encode()).hexdigest()


def places(node: ast.AST, inside: str = "") -> Iterator[tuple[str, ast.AST, ast.AST]]:
    """`(function, node, what stands there instead)` of everything that can be changed."""
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        inside = f"{inside}.{node.name}"
    changed = other(node)
    if changed is not None:
        yield inside, node, changed
    for name, value in ast.iter_fields(node):
        if name in UNREAD:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from places(child, inside)


def other(node: ast.AST) -> ast.AST | None:
    """The node changed: a flip, a swap, a nudge; None where this script changes nothing."""
    changed = copy.copy(node)
    match node:
        case ast.Compare(ops=[op, *rest]) if type(op) in SWAPS:
            changed.ops = [SWAPS[type(op)](), *rest]  # type: ignore[attr-defined]
        case (
            ast.BinOp(left=left, op=op, right=right)
            | ast.AugAssign(target=left, op=op, value=right)
        ) if type(op) in SWAPS and not (_worded(left) or _worded(right)):
            changed.op = SWAPS[type(op)]()  # type: ignore[attr-defined]
        case ast.BoolOp(op=op):
            changed.op = SWAPS[type(op)]()  # type: ignore[attr-defined]
        case ast.UnaryOp(op=ast.USub() | ast.Not() | ast.Invert(), operand=operand):
            return operand
        case ast.Constant(value=bool(value)):
            changed.value = not value  # type: ignore[attr-defined]
        case ast.Constant(value=int(value)):
            changed.value = value + 1  # type: ignore[attr-defined]
        case ast.Constant(value=float(value)):
            changed.value = round(1.2 * value, 9) or 0.5  # type: ignore[attr-defined]
        case ast.Name(id=name) if name in NAMES:
            changed.id = NAMES[name]  # type: ignore[attr-defined]
        case ast.Attribute(attr=name) if name in NAMES:
            changed.attr = NAMES[name]  # type: ignore[attr-defined]
        case _:
            return None
    return changed


def _worded(node: ast.AST) -> bool:
    """Whether it is a text (or a list) that `+` joins rather than a sum."""
    joined = isinstance(node, ast.JoinedStr | ast.List | ast.Tuple)
    return joined or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def mutants(root: Path, file: str) -> list[Mutant]:
    """All of a file."""
    found: list[Mutant] = []
    seen: dict[str, int] = {}
    for index, (inside, node, changed) in enumerate(places(_tree(root / file))):
        says = f"{_short(node)}  ->  {_short(changed)}"
        where = f"{inside}: {says}"
        seen[where] = seen.get(where, 0) + 1
        line = getattr(node, "lineno", 0)
        found.append(Mutant(file, index, line, says, f"{where} #{seen[where]}"))
    return found


def mutated(root: Path, mutant: Mutant) -> str:
    """The file's text with the one change."""
    tree = _tree(root / mutant.file)
    _, node, changed = list(places(tree))[mutant.index]
    for parent in ast.walk(tree):
        for name, value in ast.iter_fields(parent):
            if value is node:
                setattr(parent, name, changed)
            elif isinstance(value, list) and any(v is node for v in value):
                setattr(parent, name, [changed if v is node else v for v in value])
    return ast.unparse(tree)


def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 70 else f"{text[:67]}..."


def mirrors_of(root: Path, file: str) -> tuple[str, ...]:
    """The tests that mirror a file of the package."""
    _, room, *rooms, name = Path(file).with_suffix("").parts
    besides = [t for t in BESIDES.get(room, ()) if (root / t).exists()]
    mirrors = (
        "/".join(("tests", room, *rooms, f"test_{name}.py")),
        *(f"tests/{room}/test_{sub.strip('_')}.py" for sub in rooms),
        f"tests/{room}/test_{name.strip('_')}.py",
    )
    mirrored = [t for t in mirrors if (root / t).is_file()][:1]
    if mirrored or room == "judging":
        return tuple(dict.fromkeys((*mirrored, *besides)))
    return (OTHERWISE, f"tests/{room}")


@dataclass
class Bench:
    """Copies of the checkout in which the tests run."""

    root: Path
    folder: Path
    free: SimpleQueue[Path] = field(default_factory=SimpleQueue)

    def lay_out(self) -> None:
        """Make the copies; the bytecode goes by the text's hash, never by its time."""
        for number in range(AT_ONCE):
            to = self.folder / f"copy{number}"
            skip = shutil.ignore_patterns("__pycache__", ".*", "out")
            shutil.copytree(self.root, to, ignore=skip)
            quiet = ["-q", "--invalidation-mode", "checked-hash", str(to / "shotplan")]
            subprocess.run([sys.executable, "-m", "compileall", *quiet], check=True)
            self.free.put(to)

    def fails(
        self, tests: tuple[str, ...], file: str, text: str, most_s: float
    ) -> tuple[str, float]:
        """How the tests fail with a file changed (empty where they pass), and the processor
        seconds they take, at most so many."""
        at = self.free.get()
        kept = (at / file).read_text("utf-8")
        most = math.ceil(most_s)
        try:
            (at / file).write_text(text, "utf-8")
            env = {**os.environ, "PYTHONPATH": str(at), "PYTHONDONTWRITEBYTECODE": "1"}
            with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
                started = subprocess.Popen(
                    [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:randomly", *tests],
                    cwd=at, env=env, stdout=said, stderr=subprocess.STDOUT,
                    preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (most, most)),
                )  # fmt: skip
                _, status, used = os.wait4(started.pid, 0)
                started.returncode = os.waitstatus_to_exitcode(status)
                said.seek(0)
                last = said.read().strip().rpartition("\n")[2]
            took = used.ru_utime + used.ru_stime
            if started.returncode < 0:
                return f"no end in {most} s", took
            return last if started.returncode else "", took
        finally:
            (at / file).write_text(kept, "utf-8")
            self.free.put(at)


def run(root: Path, files: list[str], sample: int, seed: int) -> int:
    """Draw, try, tell; 1 where the tests fail on the code as it is."""
    every = [m for file in files for m in mutants(root, file)]
    drawn = sorted(every, key=lambda m: m.drawn(seed))[:sample]
    print(f"{len(drawn)} of {len(every)} mutants of {len(files)} files, seed {seed}", flush=True)
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(AT_ONCE) as pool:
        bench = Bench(root, Path(folder))
        bench.lay_out()

        def whole(tests: tuple[str, ...], file: str) -> tuple[str, float]:
            return bench.fails(tests, file, ast.unparse(_tree(root / file)), 3600.0)

        def tried(mutant: Mutant) -> str:
            tests = mirrors_of(root, mutant.file)
            most_s = max(LEAST_S, TIMES * took[tests])
            return bench.fails(tests, mutant.file, mutated(root, mutant), most_s)[0]

        asked = {mirrors_of(root, m.file): m.file for m in drawn}
        answers = dict(zip(asked, pool.map(whole, asked, asked.values()), strict=True))
        took = {tests: seconds for tests, (_, seconds) in answers.items()}
        broken = [f"{' '.join(t)}: {how}" for t, (how, _) in answers.items() if how]
        if broken:
            print("the tests fail on the code as it is:", *broken, sep="\n  ")
            return 1
        killed = 0
        for mutant, how in zip(drawn, pool.map(tried, drawn), strict=True):
            killed += bool(how)
            word = "killed  " if how else "SURVIVED"
            why = f" ({how})" if how.startswith("no end") else ""
            print(f"{word} {mutant.file}:{mutant.line}: {mutant.says}{why}", flush=True)
    print(f"killed {killed} of {len(drawn)}, {killed / max(len(drawn), 1):.0%}")
    return 0


def main(words: list[str]) -> int:
    """Read what is asked for and run."""
    asks = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    asks.add_argument("paths", nargs="+", help="files or folders of the package")
    asks.add_argument("--sample", type=int, default=100)
    asks.add_argument("--seed", type=int, default=1)
    asks.add_argument("--root", type=Path, default=ROOT, help="another checkout")
    says = asks.parse_args(words)
    root = says.root.resolve()
    files: list[str] = []
    for path in says.paths:
        at = root / path
        found = sorted(at.rglob("*.py")) if at.is_dir() else [at]
        files += [p.relative_to(root).as_posix() for p in found]
    os.nice(10)
    return run(root, files, says.sample, says.seed)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
