"""Which axis is up, where the file says it."""

import pytest
from found import found, toml
from shapes import cube

from reviewbot.checks.up_axis import RULE


@pytest.mark.parametrize("said", [None, "y"])
def test_silent(said: str | None) -> None:
    assert found(RULE, cube(), up_axis=said) == []


def test_fires() -> None:
    (finding,) = found(RULE, cube(), up_axis="z")
    assert (finding.severity, finding.part) == ("note", "")
    assert found(RULE, cube(), up_axis="z", settings=toml('[placement]\nup = "z"')) == []
