"""What one rule finds in parts standing together, for the tests."""

from __future__ import annotations

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.measure.examine import examine
from reviewbot.measure.pairing import Partner
from reviewbot.mesh import Model, Part
from reviewbot.settings import Settings, parse_settings

DEFAULTS = Settings()


def found(
    rule: Rule,
    *parts: Part,
    settings: Settings = DEFAULTS,
    partner: Partner | None = None,
    up_axis: str | None = None,
    metres_per_unit: float | None = None,
) -> list[Finding]:
    """The rule's findings of a model of these parts."""
    model = Model(parts=parts, format="obj", up_axis=up_axis, metres_per_unit=metres_per_unit)
    examination = examine(model, settings, partner=partner)
    return list(rule.find(Subject(path="prop.obj", examination=examination, settings=settings)))


def toml(text: str) -> Settings:
    """Settings as a repository writes them."""
    return parse_settings(text, path="reviewbot.toml")
