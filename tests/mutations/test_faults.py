"""Every fault gives its finding as new, and a harmless export of the faulty file gives none.

Faults are slips of the trade (common practice, no source).
"""

from __future__ import annotations

import datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from mutations.faults import FAULTS, SETTINGS, Fault, sound
from mutations.reexports import REEXPORTS

from reviewbot.checks.finding import Finding
from reviewbot.checks.rules import MESH_RULES, run_rules
from reviewbot.checks.standing import with_standings
from reviewbot.checks.subject import Subject
from reviewbot.compare.comparison import compare
from reviewbot.geometry.rays import rays_available
from reviewbot.history.sources import DiskSource
from reviewbot.jobs import AssetJob
from reviewbot.making import make_review
from reviewbot.measure.examine import Examination, examine
from reviewbot.mesh import Model

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)
# Notes on what is no fault, on what a file says beside its mesh, and what needs views.
NOT_PLANTED = {
    "uv-stacked",
    "up-axis",
    "texture-missing",
    "silhouette-change",
    "warped-face",
}


@cache
def sound_examination() -> Examination:
    return examine(sound(), SETTINGS)


def rules_of(examination: Examination) -> tuple[Finding, ...]:
    subject = Subject(path="prop.obj", examination=examination, settings=SETTINGS)
    return run_rules(subject, MESH_RULES)


def findings(before: Examination, after: Examination) -> tuple[Finding, ...]:
    """Findings of the version after, with their standing."""
    comparison = compare(before, after, SETTINGS)
    return with_standings(rules_of(before), rules_of(after), before, after, comparison)


def disordered(whole: Model, seed: int) -> Model:
    return REEXPORTS["everything at once"](whole, np.random.default_rng(seed))


def test_every_finding_code_of_a_mesh_is_planted() -> None:
    planted = {fault.code for fault in FAULTS}
    assert planted == {rule.code for rule in MESH_RULES} - NOT_PLANTED


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_is_a_new_finding(fault: Fault) -> None:
    after = examine(disordered(fault.plant(sound()), seed=6), SETTINGS)
    new = {(one.code, one.part) for one in findings(sound_examination(), after)
           if one.standing == "new"}  # fmt: skip
    assert (fault.code, fault.part) in new


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_harmless_export_has_no_new_finding(fault: Fault, seed: int) -> None:
    faulty = fault.plant(sound())
    told = findings(examine(faulty, SETTINGS), examine(disordered(faulty, seed), SETTINGS))
    assert not [one for one in told if one.standing in ("new", "worse", "fixed")]


TENT = "v 0 0 0\nv 2 0 0\nv 2 {high} 0\nv 0 {high} 0\nv 1 1 2\nf 1 2 3 4\nf 1 2 5\nf 3 4 5\n"


def reviewed(folder: Path, before: str, after: str) -> set[tuple[str, str]]:
    """Codes and standings of the findings in a review of two files."""
    for name, text in (("before.obj", before), ("after.obj", after)):
        (folder / name).write_text(text)
    old, new = (DiskSource(path="a.obj", file=folder / f"{v}.obj") for v in ("before", "after"))
    job = AssetJob(
        path="a.obj",
        before=old,
        after=new,
        settings=SETTINGS,
        pictures="figures",
        renderer="auto",
        detail="brief",
        acceptances=(),
        today=datetime.date(2024, 5, 1),
    )
    return {(one.code, one.standing) for one in make_review(job).review.entry.findings}


def test_another_outline_is_a_new_finding(tmp_path: Path) -> None:
    before, after = TENT.format(high=2), TENT.format(high=3)
    assert ("silhouette-change", "new") in reviewed(tmp_path, before, after)
    assert not {code for code, standing in reviewed(tmp_path, before, before) if standing == "new"}


def test_a_broken_file_is_a_new_finding(tmp_path: Path) -> None:
    before = TENT.format(high=2)
    assert ("unreadable", "new") in reviewed(tmp_path, before, before.replace("f 1 2 5", "f 1 2 9"))
