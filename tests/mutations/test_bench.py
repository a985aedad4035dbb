"""The mutation bench, small: every plant named, no false alarm, one cause for the whole asset.

Plants and harmless exports are made from facts of the trade (common practice, no source); the
real meshes are published ones, fetched by package name (see `real_meshes`).
"""

from __future__ import annotations

import pytest
from mutations.bench import Trial, planted_trials, quiet_trials
from mutations.plants import PLANTS, Plant
from mutations.subjects import SOURCES, Subject, built, real

SUBJECTS = built()
EXPORTS = ("same", "everything at once")


def wrong(trials: list[Trial]) -> list[str]:
    return [trial.line() for trial in trials if trial.is_wrong]


@pytest.mark.parametrize("subject", SUBJECTS, ids=lambda subject: subject.name)
def test_a_harmless_export_is_no_change(subject: Subject) -> None:
    trials = list(quiet_trials(subject, seed=7))
    assert len(trials) >= 10
    assert not wrong(trials)


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_a_plant_is_named_by_its_cause(plant: Plant) -> None:
    trials = [
        trial
        for subject in SUBJECTS
        for trial in planted_trials(subject, [(plant,)], EXPORTS, seed=7)
    ]
    if not trials:
        pytest.skip("finds no ground on the made meshes; the bench plants it in real ones")
    assert not wrong(trials)
    assert not [trial.line() for trial in trials if trial.extra]


def test_there_are_plants_of_at_least_thirty_five_kinds() -> None:
    assert len(PLANTS) >= 35


@pytest.mark.slow
@pytest.mark.parametrize("source", SOURCES, ids=lambda source: source.__name__)
def test_real_meshes_exported_harmlessly_are_no_change(source: object) -> None:
    trials = [
        trial
        for subject in list(real(source()))[:6]  # type: ignore[operator]
        for trial in quiet_trials(subject, seed=5)
    ]
    assert trials
    assert not wrong(trials)
