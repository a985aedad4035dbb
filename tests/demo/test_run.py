"""The whole demo: every planted fault is named in the review of its own commit, and no other."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reviewbot.demo.run import run_demo
from reviewbot.demo.scenario import Step, build_repository
from reviewbot.errors import UsageError
from reviewbot.runs import Options, carry_out, plan_repository


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Step, dict]]:
    """Each step with the entry of the asset it is about."""
    folder = tmp_path_factory.mktemp("demo") / "lantern"
    options = Options(pictures="figures")
    steps = build_repository(folder)
    plans = [plan_repository(folder, None, step.commit, options) for step in steps]
    pairs = []
    for step, result in zip(steps, carry_out(plans, options), strict=True):
        assets = json.loads(result.report.model_dump_json(by_alias=True))["assets"]
        pairs.append((step, next(asset for asset in assets if asset["path"] == step.path)))
    return pairs


@pytest.mark.slow
def test_every_planted_change_is_named(reviewed: list[tuple[Step, dict]]) -> None:
    missing = [
        (step.title, planted)
        for step, asset in reviewed
        for planted in step.changes
        if not any(
            c["code"] == planted.code and c["part"] in (planted.part, "") for c in asset["changes"]
        )
    ]
    assert not missing


@pytest.mark.slow
def test_every_planted_fault_is_found_as_new_or_worse(reviewed: list[tuple[Step, dict]]) -> None:
    missing = [
        (step.title, planted)
        for step, asset in reviewed
        for planted in step.findings
        if not any(
            f["code"] == planted.code
            and f["part"] == planted.part
            and f["standing"] in ("new", "worse")
            for f in asset["findings"]
        )
    ]
    assert not missing


@pytest.mark.slow
def test_a_harmless_export_is_quiet(reviewed: list[tuple[Step, dict]]) -> None:
    quiet = [asset for step, asset in reviewed if step.is_quiet]
    assert quiet
    for asset in quiet:
        assert asset["state"] == "same"
        assert not [f for f in asset["findings"] if f["standing"] in ("new", "worse")]


@pytest.mark.slow
def test_the_lantern_as_it_should_be_stands_unblamed(reviewed: list[tuple[Step, dict]]) -> None:
    """Its last version is a good prop: whatever weighs in it would be a false alarm."""
    _, last = [pair for pair in reviewed if pair[0].path.endswith("lantern_low.obj")][-1]
    standing = [f for f in last["findings"] if f["standing"] != "fixed"]
    assert not [(f["code"], f["part"]) for f in standing if f["severity"] != "note"]


def test_a_folder_with_something_else_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep")
    with pytest.raises(UsageError, match="holds something else"):
        run_demo(tmp_path, Options())
    assert (tmp_path / "mine.txt").read_text() == "keep"
