"""The command `snapshot`, as a user or a hosted job runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from dated import Dated, box
from typer.testing import CliRunner, Result

from reviewbot.cli import app
from reviewbot.errors import UsageError
from reviewbot.report.json_report import from_json

SPAN = ["--since", "2025-03-24", "--until", "2025-03-30", "--no-pictures", "--no-cache"]


@pytest.fixture
def props(repository: Dated) -> Dated:
    repository.at("2025-03-20 12:00:00 +0100", {"box.obj": box()})
    repository.at("2025-03-25 12:00:00 +0100", {"box.obj": box(scale=2)}, message="Grow")
    return repository


def run(props: Dated, *more: str) -> Result:
    command = ["snapshot", str(props.folder), "--workers", "1", *SPAN, *more]
    return CliRunner().invoke(app, command)


def test_a_folder_gets_every_form(props: Dated, tmp_path: Path) -> None:
    done = run(props, "--out", str(tmp_path / "week"))
    assert done.exit_code == 0, done.exception
    written = {path.name for path in (tmp_path / "week").iterdir()}
    assert written == {"report.html", "report.md", "report.json"}
    assert done.stdout.startswith("24 to 30 March 2025: 1 asset touched; 1 commit by 1 person.")
    report = from_json((tmp_path / "week" / "report.json").read_bytes())
    assert report.progress is not None
    assert report.progress.zone == "UTC"


def test_json_alone_goes_to_standard_output(props: Dated, monkeypatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    done = run(props, "--json", "-")
    told = json.loads(done.stdout)
    assert [one["path"] for one in told["assets"]] == ["box.obj"]
    assert told["progress"]["commits"] == 1
    assert list(tmp_path.glob("reviewbot-*")) == []


def test_quiet_says_nothing(props: Dated, tmp_path: Path) -> None:
    assert run(props, "--out", str(tmp_path / "o"), "--quiet").stdout == ""


def test_the_status_is_the_gate_s(props: Dated, tmp_path: Path) -> None:
    strict = tmp_path / "strict.toml"
    strict.write_text('[gate]\nfail_on = "note"\n', encoding="utf-8")
    props.at("2025-03-26 12:00:00 +0100", {"box.obj": box(sides=4)})
    assert run(props, "--json", "-", "--settings", str(strict)).exit_code == 1
    done = CliRunner().invoke(app, ["snapshot", str(props.folder), "--zone", "Harbour/Quay"])
    assert isinstance(done.exception, UsageError)


def test_an_issue_is_named_or_the_hosted_job_s(
    props: Dated, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("GITHUB_ACTIONS", "GITLAB_CI"):
        monkeypatch.delenv(name, raising=False)
    with_host = ["--json", "-", "--issue", "3", "--host", "github", "--repo", "studio/props"]
    done = run(props, *with_host, "--dry-run")
    assert done.exit_code == 0, done.exception
    assert "comment on studio/props, issue 3" in done.stderr
    assert json.loads(done.stdout)["schema"] == 1
    done = run(props, "--json", "-", "--issue", "3")
    assert isinstance(done.exception, UsageError)
