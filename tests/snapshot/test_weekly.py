"""The example of a weekly workflow: pinned, with no more rights than it needs, and it would run."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import typer
import yaml

from reviewbot.cli import app

FILE = Path(__file__).parents[2] / "docs" / "examples" / "weekly.yml"
WORKFLOW: dict[Any, Any] = yaml.safe_load(FILE.read_text("utf-8"))
(JOB,) = WORKFLOW["jobs"].values()


def test_every_action_is_pinned_and_keeps_no_token() -> None:
    used = [step for step in JOB["steps"] if "uses" in step]
    assert used
    for step in used:
        assert re.fullmatch(r"[\w./-]+@[0-9a-f]{40}", step["uses"])
        if step["uses"].startswith("actions/checkout@"):
            assert step["with"]["persist-credentials"] is False


def test_it_may_write_what_it_posts_and_nothing_else() -> None:
    assert WORKFLOW["permissions"] == {}
    assert JOB["permissions"] == {"contents": "write", "issues": "write"}
    triggers = WORKFLOW[True]  # YAML 1.1 reads the word "on" as true
    assert set(triggers) == {"schedule", "workflow_dispatch"}  # no stranger's change starts it


def test_no_expression_is_pasted_into_a_script() -> None:
    assert not any("${{" in step.get("run", "") for step in JOB["steps"])


def test_its_command_is_one() -> None:
    (script,) = (step["run"] for step in JOB["steps"] if "snapshot" in step.get("run", ""))
    line = script.replace("\\\n", " ").split("snapshot", 1)[1].split("||")[0]
    given = [word.split("=")[0] for word in shlex.split(line) if word.startswith("--")]
    command = typer.main.get_command(app).commands["snapshot"]  # type: ignore[attr-defined]
    known = {option for parameter in command.params for option in parameter.opts}
    assert {"--since", "--issue"} <= set(given) <= known
