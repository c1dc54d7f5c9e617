"""The one test command: `python -m tests`.

Runs format, lint, types, import contracts and tests, all of them even where one fails, and says
at the end of each whether it passed. Exits 1 when any failed. Words after it go to pytest
(`python -m tests -k clearance`).

`python -m tests ROOM ...` runs the tests of those rooms alone, without the other steps: seconds
instead of minutes. A room is a folder of tests/ (`checks`, `output/map`) or a file of it there
(`checks/wind`, `face`).
"""

from __future__ import annotations

import os
import subprocess
import sys
from itertools import takewhile
from pathlib import Path

TESTS = Path(__file__).resolve().parent
ROOT = TESTS.parent
BIN = Path(sys.executable).parent

STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("format", (sys.executable, "-m", "ruff", "format", "--check", "--no-cache", ".")),
    ("lint", (sys.executable, "-m", "ruff", "check", "--no-cache", ".")),
    ("types", (sys.executable, "-m", "mypy")),
    ("imports", (str(BIN / "lint-imports"), "--no-cache")),
    (
        "tests",
        (
            sys.executable,
            "-m",
            "pytest",
            "-n",
            "auto",
            "--dist",
            "loadfile",
            "--no-loadscope-reorder",
        ),
    ),
)


def room(word: str) -> Path | None:
    """The folder or file of tests that a word names; None where it names none."""
    folder = TESTS / word
    there = (folder, folder.with_name(f"test_{folder.name}.py"))
    return next((p for p in there if word[:1].isalpha() and p.exists()), None)


def main(words: list[str]) -> int:
    """Run every step; where the first words name rooms, their tests alone."""
    rooms = list(takewhile(lambda word: room(word) is not None, words))
    if not rooms:
        return every_step(words)
    told = [str(room(word)) for word in rooms] + words[len(rooms) :]
    return subprocess.run((sys.executable, "-m", "pytest", *told), cwd=ROOT, check=False).returncode


def every_step(for_pytest: list[str]) -> int:
    """Run every step; pytest comes last so that its closing line does too."""
    failed: list[str] = []
    for name, command in STEPS:
        if name == "tests":
            so_far = f"failed so far: {', '.join(failed)}" if failed else "all well so far"
            print(f"== {name} ({so_far})", flush=True)
            command = (*command, *for_pytest)
        else:
            print(f"== {name}", flush=True)
        ended = subprocess.run(command, cwd=ROOT, check=False, env=os.environ)
        if ended.returncode != 0:
            failed.append(name)
            print(f"== {name} FAILED", file=sys.stderr, flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
