from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from report.chromium import launched, write_page
from report.sample import REPORTS


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with launched() as running:
        yield running


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The samples' pages by their names."""
    folder = tmp_path_factory.mktemp("pages")
    return {name: write_page(report, folder / f"{name}.html") for name, report in REPORTS.items()}
