"""The example of a weekly workflow: no more rights than it needs, and a command that there is."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Any

import typer
import yaml

from reviewbot.cli import app

FILE = Path(__file__).parents[2] / "docs" / "examples" / "weekly.yml"
WORKFLOW: dict[Any, Any] = yaml.safe_load(FILE.read_text("utf-8"))
(JOB,) = WORKFLOW["jobs"].values()


def test_it_may_write_what_it_posts_and_nothing_else() -> None:
    assert WORKFLOW["permissions"] == {}
    assert JOB["permissions"] == {"contents": "write", "issues": "write"}
    triggers = WORKFLOW[True]  # YAML 1.1 reads the word "on" as true
    assert set(triggers) == {"schedule", "workflow_dispatch"}  # no stranger's change starts it


def test_its_command_is_one() -> None:
    (script,) = (step["run"] for step in JOB["steps"] if "snapshot" in step.get("run", ""))
    line = script.replace("\\\n", " ").split("snapshot", 1)[1].split("||")[0]
    given = [word.split("=")[0] for word in shlex.split(line) if word.startswith("--")]
    command = typer.main.get_command(app).commands["snapshot"]  # type: ignore[attr-defined]
    known = {option for parameter in command.params for option in parameter.opts}
    assert {"--since", "--issue"} <= set(given) <= known
