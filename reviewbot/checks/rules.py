"""The table of rules, and the one place where settings change a severity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from reviewbot.checks import (
    bad_coordinate,
    concave_face,
    corner_will_round,
    density_uneven,
    doubled_part,
    duplicate_face,
    empty_part,
    hero_density,
    inside_out,
    large_face,
    loose_vertex,
    mixed_winding,
    name_pattern,
    ngon,
    non_manifold_edge,
    non_manifold_vertex,
    odd_unit,
    off_origin,
    open_border,
    pair_gap,
    pair_missing,
    seam_exposed,
    shell_gap,
    silhouette_change,
    texture_missing,
    texture_on_hidden,
    tile_budget,
    tile_wasted,
    transform_left,
    uneven_quads,
    up_axis,
    uv_mirrored,
    uv_missing,
    uv_outside_tile,
    uv_overlap,
    uv_stacked,
    uv_stretch,
    uv_zero_area,
    warped_face,
    zero_area_face,
)
from reviewbot.checks.finding import Finding
from reviewbot.checks.rule import Rule
from reviewbot.checks.subject import Subject
from reviewbot.settings import RuleSettings, Severity, importance_of, matches

MESH_RULES: tuple[Rule, ...] = (
    bad_coordinate.RULE,
    ngon.RULE,
    concave_face.RULE,
    warped_face.RULE,
    zero_area_face.RULE,
    duplicate_face.RULE,
    doubled_part.RULE,
    non_manifold_edge.RULE,
    non_manifold_vertex.RULE,
    open_border.RULE,
    loose_vertex.RULE,
    empty_part.RULE,
    mixed_winding.RULE,
    inside_out.RULE,
    uv_missing.RULE,
    uv_zero_area.RULE,
    uv_mirrored.RULE,
    uv_overlap.RULE,
    uv_stacked.RULE,
    uv_outside_tile.RULE,
    uv_stretch.RULE,
    density_uneven.RULE,
    shell_gap.RULE,
    tile_wasted.RULE,
    tile_budget.RULE,
    hero_density.RULE,
    seam_exposed.RULE,
    texture_on_hidden.RULE,
    texture_missing.RULE,
    uneven_quads.RULE,
    large_face.RULE,
    corner_will_round.RULE,
    transform_left.RULE,
    off_origin.RULE,
    odd_unit.RULE,
    up_axis.RULE,
    name_pattern.RULE,
    pair_missing.RULE,
    pair_gap.RULE,
)
PICTURE_RULES: tuple[Rule, ...] = (silhouette_change.RULE,)  # these need views to be compared
RULES = (*MESH_RULES, *PICTURE_RULES)


def run_rules(subject: Subject, rules: Sequence[Rule] = RULES) -> tuple[Finding, ...]:
    """What rules find in a subject, in their order, at the severities the settings ask."""
    with np.errstate(all="ignore"):  # nan and infinity in a mesh are findings, not warnings
        found = [finding for rule in rules for finding in rule.find(subject)]
    judged = (judge(finding, subject) for finding in found)
    return tuple(finding for finding in judged if finding is not None)


def judge(finding: Finding, subject: Subject) -> Finding | None:
    """A finding at its severity under the settings, None where it is off; the last match counts."""
    severity: Severity | Literal["off"] = finding.severity
    for rule in subject.settings.rules:
        if _applies(rule, finding, subject):
            severity = rule.severity
    if severity == "off":
        return None
    return replace(finding, severity=severity)


def _applies(rule: RuleSettings, finding: Finding, subject: Subject) -> bool:
    return (
        rule.code in (finding.code, "*")
        and matches(subject.path, rule.paths)
        and matches(finding.part, rule.parts)
        and importance_of(finding.part, subject.settings) in rule.importance
    )
