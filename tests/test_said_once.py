"""What is said of a check or a style stands with it: nobody else lists them by name, or probes one.

Names are only looked for where two stand together (a tuple, list or set, the keys of a dictionary,
the cases of a `match`): one alone asks for the one thing it is about.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from shotplan.checks import CHECKS
from shotplan.styles import STYLES
from tests.test_house import PACKAGE, named, sources

NAMES = {check.id for check in CHECKS} | {style.name for style in STYLES}
CLASSES = {style.__name__: style.__module__ for style in STYLES}

# Words that happen to be the name of a check or style, too: file -> the words, what they are there.
OTHERS = {
    "shotplan/checks/fall/said.py": ({"people", "crew", "wildlife"}, "who may be under it"),
    "shotplan/desk/forms.py": ({"boundary", "people", "keep-out", "wildlife"}, "roles of areas"),
    "shotplan/model/site.py": ({"people", "wildlife"}, "what somebody looked for"),
    "shotplan/output/answers/light.py": ({"light", "glare"}, "keys of what `light` answers"),
    "shotplan/output/answers/spots_picture.py": (
        {"fall", "people", "keep-out", "wildlife", "boundary"},
        "looks of areas",
    ),
    "shotplan/output/brief/back.py": ({"people", "sight", "battery"}, "what observers are told"),
    "shotplan/output/brief/words.py": ({"aircraft", "hold", "people"}, "words that are called"),
    "shotplan/output/look.py": (
        {"boundary", "keep-out", "people", "wildlife", "fall"},
        "looks of areas",
    ),
    "shotplan/scene/margin.py": ({"people", "crew", "aircraft"}, "what a caution is about"),
    "shotplan/site/roles.py": ({"boundary", "people", "keep-out", "wildlife"}, "roles of areas"),
}


def lists(tree: ast.AST) -> Iterator[tuple[int, set[str]]]:
    """Line and names of each list of two names or more."""
    for node in ast.walk(tree):
        match node:
            case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Set(elts=parts):
                found = parts
            case ast.Dict(keys=keys):
                found = [key for key in keys if key is not None]
            case ast.Match(cases=cases):
                inside = (n for case in cases for n in ast.walk(case.pattern))
                found = [n.value for n in inside if isinstance(n, ast.MatchValue)]
            case _:
                continue
        said = [n.value for n in found if isinstance(n, ast.Constant) and n.value in NAMES]
        if len(said) > 1:
            yield node.lineno, {str(name) for name in said}


def probes(tree: ast.AST, module: str = "") -> Iterator[tuple[int, str]]:
    """Line and text of what asks a style what it is: its class (elsewhere than in the module that
    holds it), or whether it has something."""
    for node in ast.walk(tree):
        match node:
            case ast.Call(func=ast.Name(id="hasattr" | "getattr"), args=[what, *_]):
                if "style" in ast.unparse(what).lower():
                    yield node.lineno, ast.unparse(node)
            case ast.Call(func=ast.Name(id="isinstance" | "issubclass"), args=[_, kinds]):
                if classes(kinds, module):
                    yield node.lineno, ast.unparse(node)
            case ast.MatchClass(cls=kind):
                if classes(kind, module):
                    yield node.lineno, ast.unparse(node)


def classes(node: ast.AST, module: str) -> set[str]:
    """Styles' classes of other modules that are named in an expression."""
    used = {n.id if isinstance(n, ast.Name) else n.attr for n in ast.walk(node)
            if isinstance(n, ast.Name | ast.Attribute)}  # fmt: skip
    return {name for name in used & CLASSES.keys() if CLASSES[name] != module}


def trees() -> Iterator[tuple[Path, ast.AST]]:
    for path in sources(PACKAGE):
        yield path, ast.parse(path.read_text("utf-8"))


def test_nobody_lists_checks_or_styles() -> None:
    none: tuple[set[str], str] = (set(), "")
    assert [
        f"{named(path)}:{line}: {', '.join(sorted(names))}"
        for path, tree in trees()
        for line, names in lists(tree)
        if not names <= OTHERS.get(named(path), none)[0]
    ] == []


def test_every_other_meaning_is_still_there() -> None:
    said = {named(path): [names for _, names in lists(tree)] for path, tree in trees()}
    for path, (words, meaning) in OTHERS.items():
        assert words in said[path], f"{path} has no list of {meaning} any more"


def test_nobody_probes_a_style() -> None:
    assert [
        f"{named(path)}:{line}: {text}"
        for path, tree in trees()
        for line, text in probes(tree, ".".join(path.relative_to(PACKAGE.parent).parts)[:-3])
    ] == []


@pytest.mark.parametrize(
    "text",
    [
        'HARMS = ("clearance", "ground")',
        'near = ["wind", "people", "no check"]',
        'OWN = frozenset({"fall", "return"})',
        'SAID = {"light": "too dark", "glare": "too bright"}',
        'over = found.check in ("people", "fall")',
        'FLIES = {"orbit": "round", "hold": "nowhere"}',
        'match found.check:\n    case "fall" | "people":\n        pass',
        'match style.name:\n    case "orbit":\n        pass\n    case "hold":\n        pass',
    ],
)
def test_a_list_is_seen(text: str) -> None:
    assert len(list(lists(ast.parse(text)))) == 1


@pytest.mark.parametrize(
    "text",
    [
        'shot.finding("wind")',
        'ROWS = ("wind", "no check")',
        'pair = (plan.finding("wind"), plan.finding("fall"))',
    ],
)
def test_one_name_alone_is_no_list(text: str) -> None:
    assert list(lists(ast.parse(text))) == []


@pytest.mark.parametrize(
    "text",
    [
        'hasattr(shot.style, "height_m")',
        'getattr(style, "side", "")',
        "isinstance(style, Orbit)",
        "isinstance(one, (int, orbit.Orbit))",
        "match style:\n    case Hold():\n        pass",
        "match style:\n    case FollowBehind() | Lead() as one:\n        pass",
    ],
)
def test_a_probe_is_seen(text: str) -> None:
    assert list(probes(ast.parse(text)))


def test_what_is_no_probe_is_none() -> None:
    assert not list(probes(ast.parse('getattr(camera, "width"); isinstance(value, float)')))
    assert not list(probes(ast.parse("isinstance(other, Orbit)"), "shotplan.styles.orbit"))
