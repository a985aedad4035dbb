"""A repository and its history, fresh for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from repositories import Repository

from reviewbot.history.git import History, open_history


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    made = Repository(tmp_path / "studio")
    made.folder.mkdir()
    made.git("init", "--quiet", "--template=", "--initial-branch=main")
    return made


@pytest.fixture
def history(repository: Repository) -> Iterator[History]:
    with open_history(repository.folder) as opened:
        yield opened
