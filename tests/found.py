"""What one rule finds in parts standing together, for the tests."""

from __future__ import annotations

from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.measure.examine import examine
from reviewbot.measure.names import Partner
from reviewbot.mesh import Material, Model, Part
from reviewbot.settings import Settings, parse_settings

DEFAULTS = Settings()


def found(
    rule: Rule,
    *parts: Part,
    settings: Settings = DEFAULTS,
    partner: Partner | None = None,
    before: tuple[Part, ...] | None = None,
    materials: tuple[Material, ...] = (),
    up_axis: str | None = None,
    metres_per_unit: float | None = None,
) -> list[Finding]:
    """The rule's findings of a model of these parts; `before` are those of an earlier version."""
    model = Model(
        parts=parts,
        format="obj",
        materials=materials,
        up_axis=up_axis,
        metres_per_unit=metres_per_unit,
    )
    earlier = None if before is None else examine(Model(parts=before, format="obj"), settings)
    subject = Subject(
        path="prop.obj",
        examination=examine(model, settings, partner=partner),
        settings=settings,
        before=earlier,
    )
    return list(rule.find(subject))


def toml(text: str) -> Settings:
    """Settings as a repository writes them."""
    return parse_settings(text, path="reviewbot.toml")
