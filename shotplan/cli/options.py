"""What several commands are given in the same words."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

SiteFolder = Annotated[Path, typer.Argument(help="the site folder")]
Force = Annotated[bool, typer.Option("--force", help="overwrite files shotplan did not write")]
AsJson = Annotated[bool, typer.Option("--json", help="print JSON instead")]
