"""Low and high parts of an asset, be they in one file or in two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reviewbot.measure.bake import Bake, measure_bakes
from reviewbot.measure.names import Pairs, Partner, base_name, find_pairs, find_pairs_between
from reviewbot.measure.surface import Surface, surface_of
from reviewbot.mesh import Part
from reviewbot.settings import Settings

Bodies = Sequence[tuple[Part, Surface]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """Which low part goes with which high part, and how each bakes.

    kind   what the file holds beside its partner file; "both" without one
    bakes  of the pairs, empty where the file holds high parts alone or rays cannot be traced
    """

    kind: Literal["low", "high", "both"]
    pairs: Pairs
    bakes: tuple[Bake, ...]


def pair_parts(bodies: Bodies, settings: Settings, *, partner: Partner | None = None) -> Pairing:
    """Pair the parts of a file, with those of its partner file where there is one.

    bodies  each part with its surface, in the model's order
    """
    names = [part.name for part, _ in bodies]
    if partner is None:
        return _pairing("both", find_pairs(names, settings.names), bodies, bodies, settings)
    others = [part.name for part in partner.model.parts]
    if partner.kind == "low":
        pairs = find_pairs_between(others, names, settings.names)
        return Pairing(kind="high", pairs=pairs, bakes=())
    other_bodies = [(part, surface_of(part)) for part in partner.model.parts]
    pairs = find_pairs_between(names, others, settings.names)
    return _pairing("low", pairs, bodies, other_bodies, settings)


def _pairing(
    kind: Literal["low", "both"], pairs: Pairs, low: Bodies, high: Bodies, settings: Settings
) -> Pairing:
    suffix = settings.names.high_suffix if kind == "both" else ""
    highs = [body for body in high if not suffix or base_name(body[0].name, suffix)]
    low_row = {part.name: row for row, (part, _) in enumerate(low)}
    high_row = {part.name: row for row, (part, _) in enumerate(highs)}
    bakes = measure_bakes(
        low,
        highs,
        [(low_row[one], high_row[other]) for one, other in pairs.pairs],
        bake_distance=settings.limits.bake_distance,
    )
    return Pairing(kind=kind, pairs=pairs, bakes=bakes)
