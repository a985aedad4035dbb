"""The figures of one part that depend on the parts around it, for reports.

Rounded, so that the same asset written in another order keeps its figures. None stands for a
figure that this part cannot have, and for all of sight and baking where rays cannot be traced.
"""

from __future__ import annotations

import math

from reviewbot.measure.bake import Bake
from reviewbot.measure.examine import Examination
from reviewbot.measure.subdivision import Subdivision
from reviewbot.measure.viewing import Viewing

Figure = float | int | str | None


def placed_measures(examination: Examination, part: int) -> dict[str, Figure]:
    """Sight, subdivision and baking of one part; `part` is its row."""
    one = examination.parts[part]
    bakes = [bake for bake in examination.pairing.bakes if bake.low == one.part.name]
    return {
        **_sight(examination.viewing[part]),
        **(_subdivision(one.subdivision) if one.subdivision is not None else {}),
        **(_bake(bakes[0]) if bakes else {}),
    }


def standing_measures(examination: Examination) -> dict[str, Figure]:
    """Size, stand and hidden texture of the whole asset."""
    placed = examination.placement
    seen = [viewing for viewing in examination.viewing if viewing is not None]
    hidden = sum(viewing.budget.hidden for viewing in seen)
    texture = sum(viewing.budget.texture for viewing in seen)
    return {
        "longest": _rounded(placed.longest, 6),
        "off_origin": _rounded(placed.off_origin, 3),
        "hidden_texture": _rounded(hidden / texture, 3) if texture > 0 else None,
        "pairs": len(examination.pairing.pairs.pairs),
    }


def _sight(viewing: Viewing | None) -> dict[str, Figure]:
    if viewing is None:
        return {}
    exposure, budget, seams = viewing.exposure, viewing.budget, viewing.seams
    return {
        "seen_share": _rounded(budget.seen_share, 3),
        "texture_share": _rounded(budget.texture_share, 3),
        "hidden_surface": _rounded(exposure.hidden_share, 3),
        "hidden_texture": _rounded(budget.hidden_share, 3),
        "seams_seen": _rounded(seams.seen_share, 2),
        "seams_exposed": _rounded(seams.exposed_share, 2),
    }


def _subdivision(cage: Subdivision) -> dict[str, Figure]:
    return {
        "quad_share": _rounded(cage.quad_share, 3),
        "poor_quads": _rounded(cage.poor_share, 3),
        "face_size_spread": _rounded(cage.reach_spread, 3),
        "edge_variation": _rounded(cage.edge_variation, 3),
        "poles": cage.poles,
        "most_edges": cage.most_edges,
        "hard_edges": len(cage.rounding.edge),
        "corner_shift": _rounded(float(cage.rounding.shift.max(initial=0.0)), 4),
    }


def _bake(bake: Bake) -> dict[str, Figure]:
    largest = max(bake.low_to_high[1], bake.high_to_low[1])
    return {
        "bake_missed": _rounded(bake.miss_share, 3),
        "bake_caught": _rounded(bake.caught_share, 3),
        "bake_distance": _digits(largest),
        "bake_distance_mean": _digits(0.5 * (bake.low_to_high[0] + bake.high_to_low[0])),
    }


def _rounded(value: float, decimals: int) -> float | None:
    return round(value, decimals) if math.isfinite(value) else None


def _digits(value: float) -> float | None:
    """Two digits that count: a sampled distance has no more."""
    return float(f"{value:.2g}") if math.isfinite(value) else None
