"""A repository, and a watcher's desk for it."""

from __future__ import annotations

from pathlib import Path

import pytest
from repositories import Repository
from watch.lives import AtOnce, Desk, new_repository


@pytest.fixture
def studio(tmp_path: Path) -> Repository:
    return new_repository(tmp_path / "studio")


@pytest.fixture
def desk(studio: Repository, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Desk:
    monkeypatch.setattr("reviewbot.watch.loop.Thread", AtOnce)
    monkeypatch.setattr("reviewbot.watch.backoff.random.random", lambda: 1.0)
    return Desk(folder=tmp_path / "desk", texts=(str(studio.folder),))
