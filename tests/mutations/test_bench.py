"""The mutation bench, as far as it fits a test run: every plant is named, nothing harmless is
taken for a change, and what happened to the whole asset is told as one cause.

Plants and harmless exports are made from facts of the trade (common practice, no source); the
real meshes are published ones, fetched by package name (see `real_meshes`). The whole bench, with
every mesh and any seed, is `bench.py` beside this file.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from mutations.bench import Trial, drawn_groups, planted_trials, quiet_trials
from mutations.plants import PLANTS, Plant
from mutations.reexports import REEXPORTS
from mutations.subjects import SOURCES, Subject, built, real

from reviewbot.compare.change import CODES

SUBJECTS = built()
SEED = 20
DISORDER = ["everything at once"]


def wrong(trials: list[Trial]) -> str:
    return "\n".join(trial.line() for trial in trials if trial.is_wrong)


def test_every_change_code_is_planted() -> None:
    assert {plant.code for plant in PLANTS} == set(CODES)
    assert len(PLANTS) >= 35


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda subject: subject.name)
def test_a_harmless_export_is_no_change(subject: Subject) -> None:
    trials = list(quiet_trials(subject, SEED))
    assert len(trials) >= 10
    assert not wrong(trials)


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_a_plant_is_named_by_its_cause(plant: Plant) -> None:
    trials = [
        trial
        for subject in SUBJECTS
        for trial in planted_trials(subject, [(plant,)], DISORDER, SEED)
    ]
    if not trials:
        pytest.skip("finds no ground on the made meshes; the bench plants it in real ones")
    assert not wrong(trials)
    assert not [trial.line() for trial in trials if trial.extra]


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda subject: subject.name)
def test_two_and_three_plants_at_once_are_each_named(subject: Subject) -> None:
    groups = [*drawn_groups(2, 10, SEED), *drawn_groups(3, 10, SEED)]
    trials = list(planted_trials(subject, groups, DISORDER, SEED))
    assert trials
    assert not wrong(trials)


@pytest.mark.slow
@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_a_harmless_export_on_top_of_a_plant_adds_nothing(plant: Plant) -> None:
    for subject in SUBJECTS:
        trials = list(planted_trials(subject, [(plant,)], list(REEXPORTS), SEED))
        told = {tuple(sorted((c.code, c.part) for c in trial.told)) for trial in trials}
        assert len(told) <= 1


@pytest.mark.slow
@pytest.mark.parametrize(
    "source", SOURCES, ids=["myosuite", "openmesh", "compas", "robosuite", "pipeworks", "assimp"]
)
def test_real_meshes(source: Callable[[], list[Path]]) -> None:
    """Every ninth mesh of each package; the bench takes them all."""
    trials: list[Trial] = []
    for subject in list(real(source()))[::9]:
        trials += quiet_trials(subject, SEED)
        groups = [(plant,) for plant in PLANTS]
        trials += planted_trials(subject, groups, ["same", *DISORDER], SEED)
    assert trials
    assert not wrong(trials)
