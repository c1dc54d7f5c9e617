"""What the tests may need from outside the checkout, and how often a property is tried.

`real` tests need the folder of real surveys and recordings (`../shared/real`, or where
`SHOTPLAN_REAL` points), `browser` tests Debian's chromium. Where these are absent the tests skip
and say why; with `SHOTPLAN_NEED_ALL=1` (continuous integration) such a skip is a failure.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import hypothesis
import pytest

from shotplan.side_by_side import SETTING
from tests import shared_plans

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ROOT = Path(__file__).resolve().parent.parent
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
NEED_ALL = os.environ.get("SHOTPLAN_NEED_ALL") == "1"
os.environ.setdefault(SETTING, "1")  # the tests themselves run side by side

hypothesis.settings.register_profile(
    "house", deadline=None, derandomize=True, max_examples=25, database=None
)
hypothesis.settings.load_profile("house")


def real_folder() -> Path:
    """Where the real data should lie; a relative `SHOTPLAN_REAL` counts from the checkout."""
    return (ROOT / os.environ.get("SHOTPLAN_REAL", "../shared/real")).resolve()


def chromium_path() -> str | None:
    """The browser, None where there is none."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


def missing(marker: str) -> str:
    """Why tests with this marker cannot run here; "" where they can."""
    if marker == "real" and not (real_folder() / "SOURCES.md").is_file():
        return f"no real data in {real_folder()} (set SHOTPLAN_REAL to where it is)"
    if marker == "browser" and chromium_path() is None:
        return "no chromium on this machine (apt-get install chromium)"
    return ""


SLOW_FIRST = (  # the slowest first
    "advice/test_mend", "stories/test_recheck", "output/brief/test_brief", "cli/test_commands",
    "stories/test_map_of_bundled_sites", "stories/test_known_truth", "stories/test_lidar_truth",
    "stories/test_styles_forest", "stories/test_bad_input", "stories/test_independent",
    "stories/test_disturbed", "test_one_file", "stories/test_same_bytes",
    "advice/test_where_to_stand", "stories/test_published_accidents", "stories/test_analytic",
    "output/map/test_", "output/test_browser", "cli/test_plan_first", "aids/test_",
    "stories/test_bundled_sites", "stories/test_properties", "test_maps",
)  # fmt: skip


def _turn(item: pytest.Item) -> int:
    """When the file of a test begins; those that are not named keep their order behind."""
    named = (k for k, name in enumerate(SLOW_FIRST) if name in item.nodeid)
    return next(named, len(SLOW_FIRST))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files first, so that at the end no core waits for the other."""
    items.sort(key=_turn)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip what cannot run here, with the reason."""
    for marker in ("real", "browser"):
        if item.get_closest_marker(marker) and (reason := missing(marker)):
            pytest.skip(reason)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Where everything is needed, a skipped `real` or `browser` test has failed."""
    report = yield
    if not (NEED_ALL and report.skipped):
        return report
    if item.get_closest_marker("real") or item.get_closest_marker("browser"):
        why = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"SHOTPLAN_NEED_ALL=1, yet it skipped: {why}"
    return report


@pytest.fixture(scope="session")
def real() -> Path:
    """The folder of real data; its tests are marked `real`."""
    if reason := missing("real"):
        pytest.skip(reason)
    return real_folder()


@pytest.fixture(scope="session")
def chromium() -> str:
    """The browser's path; its tests are marked `browser`."""
    path = chromium_path()
    if path is None:
        pytest.skip(missing("browser"))
    return path


@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    """It, started, without a word to any network of its own."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=chromium, args=QUIET, headless=True)
        yield started
        started.close()


@pytest.fixture(scope="session", autouse=True)
def _plans_are_shared(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Every process of the session keeps plans of bundled sites in the same folder."""
    own = tmp_path_factory.getbasetemp()
    shared_plans.kept_in(own.parent if "PYTEST_XDIST_WORKER" in os.environ else own)


@pytest.fixture
def few_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """`shotplan plan` writes the report, the map, the files to take along and the strip only, and
    looks for no changes: the slow pictures and the mending have tests of their own."""
    from shotplan import output
    from shotplan.advice import mend

    kept = tuple(o for o in output.OUTPUTS if o.name in ("report", "map", "take-along", "strip"))
    assert len(kept) == 4
    monkeypatch.setattr(output, "OUTPUTS", kept)
    monkeypatch.setattr(mend, "mended", lambda plan, *_: plan)
