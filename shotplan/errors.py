"""What can go wrong, as a tree.

    ShotplanError
    ├── BadInput          everything wrong with what was given, in one go (exit code 2)
    └── WorkerLostError   a process that helped was ended from outside (exit code 4)

Readers do not raise: they add to a `Problems` collector and go on, so that a person mends a
folder once. Whoever started the reading calls `raise_if_any` at the end.
"""

from __future__ import annotations

from dataclasses import dataclass, field


class ShotplanError(Exception):
    """Anything this package raises on purpose."""


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong: `where` (file, feature, key) and `what` (got, wanted, what to do)."""

    where: str
    what: str

    def __str__(self) -> str:
        """One line: where, then what."""
        return f"{self.where}: {self.what}"


class BadInput(ShotplanError):
    """The input cannot be used; `problems` holds every reason."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        """Keep the problems; the message lists them, a line each."""
        self.problems = problems
        super().__init__("\n".join(str(p) for p in problems))

    def __reduce__(self) -> tuple[type[BadInput], tuple[tuple[Problem, ...]]]:
        """So that it comes whole from one process to another."""
        return BadInput, (self.problems,)


class WorkerLostError(ShotplanError):
    """A worker process is gone; what it was asked is not answered."""


@dataclass
class Problems:
    """The collector every reader is handed."""

    found: list[Problem] = field(default_factory=list)

    def add(self, where: str, what: str) -> None:
        """Note one problem; the same one twice is kept once."""
        problem = Problem(where, what)
        if problem not in self.found:
            self.found.append(problem)

    def __len__(self) -> int:
        """How many so far."""
        return len(self.found)

    def raise_if_any(self) -> None:
        """Raise `BadInput` with all of them, in the order found."""
        if self.found:
            raise BadInput(tuple(self.found))
