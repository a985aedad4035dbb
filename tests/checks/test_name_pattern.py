"""Names against the repository's pattern."""

from found import found, toml
from shapes import cube, torus

from reviewbot.checks.name_pattern import RULE

PATTERN = toml('[names]\npattern = "[a-z][a-z0-9_]*_(low|high)"')


def test_silent() -> None:
    assert found(RULE, cube(name="Cube.001")) == []  # no pattern is asked
    assert found(RULE, cube(name="cap_low"), torus(8, 6, name="cap_high"), settings=PATTERN) == []


def test_fires() -> None:
    names = ["Cap_low", "cap_low.001", "cap", "cap_low"]
    parts = [cube(name=name) for name in names]
    assert [one.part for one in found(RULE, *parts, settings=PATTERN)] == names[:3]
