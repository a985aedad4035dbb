"""Compare models in tests without measuring more of them than a comparison needs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from reviewbot.compare.change import Change
from reviewbot.compare.comparison import Comparison, compare_parts
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Model, Part
from reviewbot.settings import Settings


def compared(before: Model, after: Model, settings: Settings | None = None) -> Comparison:
    return compare_parts(
        [(part, find_shells(part)) for part in before.parts],
        [(part, find_shells(part)) for part in after.parts],
        settings or Settings(),
    )


def changes(before: Model, after: Model) -> tuple[Change, ...]:
    return compared(before, after).changes


def codes(before: Model, after: Model) -> list[str]:
    """Codes with the part they are told of: "uv-lost ring", "scale"."""
    return [f"{change.code} {change.part}".strip() for change in changes(before, after)]


def with_part(model: Model, name: str, edit: Callable[[Part], Part]) -> Model:
    """The model with one part edited."""
    return replace(
        model, parts=tuple(edit(part) if part.name == name else part for part in model.parts)
    )


def every_part(model: Model, edit: Callable[[Part], Part]) -> Model:
    return replace(model, parts=tuple(edit(part) for part in model.parts))
