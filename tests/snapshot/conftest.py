"""A repository with dated commits, fresh for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from dated import Dated

from reviewbot.history.git import History, open_history


@pytest.fixture
def repository(tmp_path: Path) -> Dated:
    return Dated.new(tmp_path / "studio")


@pytest.fixture
def history(repository: Dated) -> Iterator[History]:
    with open_history(repository.folder) as opened:
        yield opened
