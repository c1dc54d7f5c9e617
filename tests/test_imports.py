"""What an import does not load: the weight is carried by the command that needs it."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]

HEAVY = {"folium", "matplotlib", "rasterio", "typst", "shapely", "pyproj", "pydantic", "gpxpy"}
HEAVY_FOR_HELP = HEAVY - {"pydantic"}


def loaded_by(statement: str) -> set[str]:
    """Top-level modules in memory after a statement in a fresh interpreter."""
    code = f"import sys, json\n{statement}\nprint(json.dumps(sorted(sys.modules)))"
    ended = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=False
    )
    assert ended.returncode == 0, ended.stderr
    return {name.partition(".")[0] for name in json.loads(ended.stdout.splitlines()[-1])}


def test_the_package_alone_is_light() -> None:
    loaded = loaded_by("import shotplan")
    assert "shotplan" in loaded
    assert not loaded & (HEAVY | {"numpy", "typer", "rich", "ephem"})


def test_the_command_line_alone_is_light() -> None:
    loaded = loaded_by("import shotplan.cli")
    assert "typer" in loaded
    assert not loaded & HEAVY_FOR_HELP


@pytest.mark.parametrize(
    "room", ["kernels.motion.following", "kernels.motion.sensing", "kernels.ground.grid"]
)
def test_kernels_see_numpy_only(room: str) -> None:
    loaded = loaded_by(f"import shotplan.{room}")
    assert "numpy" in loaded
    assert not loaded & (HEAVY | {"typer", "rich", "ephem"})


def test_report_and_map_are_written_without_matplotlib_and_pandas() -> None:
    """As a plain install has it: folium looks for pandas, which nobody here asks for."""
    loaded = loaded_by(
        "sys.modules['pandas'] = None\n"
        "from shotplan.output import report\n"
        "from shotplan.output.map import live\n"
        "from tests.output.made_plan import made_plan\n"
        "plan = made_plan(hilly=True)\n"
        "assert report.output(plan)['report.json'] and live.output(plan)['map.html']\n"
        "del sys.modules['pandas']"
    )
    assert "folium" in loaded
    assert not loaded & {"matplotlib", "pandas"}


def test_nothing_that_is_asked_for_asks_for_pandas() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    open_, names = list(project["dependencies"]), set[str]()
    while open_:
        wanted = Requirement(open_.pop())
        if wanted.name in names or (wanted.marker and not wanted.marker.evaluate({"extra": ""})):
            continue
        names.add(wanted.name)
        open_ += metadata.requires(wanted.name) or ()
    assert {"folium", "jinja2"} <= {name.lower() for name in names}
    assert "pandas" not in names
