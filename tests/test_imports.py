"""What an import does not load: the weight is carried by the command that needs it."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

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
