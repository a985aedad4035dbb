"""What holds for all tests."""

from __future__ import annotations

from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True, scope="session")
def _cache_of_this_run(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Tests neither find reviews that earlier runs kept, nor keep any for later ones."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REVIEWBOT_CACHE", str(tmp_path_factory.mktemp("kept")))
        yield
