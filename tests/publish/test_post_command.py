"""`post` and the files for hosts, as a user or a hosted job runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from report.sample import lantern_report, picture_bytes
from typer.testing import CliRunner

from reviewbot.cli import app
from reviewbot.errors import UsageError
from reviewbot.publish.folder import write_report

COMMIT = "a" * 40
AT = ["--host", "github", "--repo", "studio/props", "--request", "2", "--commit", COMMIT]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    report = lantern_report()
    write_report(report, picture_bytes(report), tmp_path / "report")
    return tmp_path / "report"


def test_a_dry_run_needs_no_token_and_says_what_would_be_sent(folder: Path) -> None:
    for named in (folder, folder / "report.json"):
        done = CliRunner().invoke(app, ["post", str(named), *AT, "--dry-run"])
        assert done.exit_code == 0, done.exception
        assert "comment on studio/props, request 2" in done.stdout
        assert f"status of {COMMIT} in studio/props: failed" in done.stdout


def test_the_gate_may_be_the_base_s_and_not_the_report_s(folder: Path, tmp_path: Path) -> None:
    text = json.loads((folder / "report.json").read_text("utf-8"))
    (folder / "report.json").write_text(json.dumps({**text, "fail_on": "never"}), "utf-8")
    settings = tmp_path / "reviewbot.toml"
    settings.write_text('[gate]\nfail_on = "stop"\n', "utf-8")
    command = ["post", str(folder), *AT, "--dry-run"]
    assert ": passed," in CliRunner().invoke(app, command).stdout
    judged = CliRunner().invoke(app, [*command, "--settings", str(settings)])
    assert ": failed," in judged.stdout


def test_without_a_token_nothing_is_sent(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("REVIEWBOT_TOKEN", raising=False)
    done = CliRunner().invoke(app, ["post", str(folder), *AT])
    assert isinstance(done.exception, UsageError)
    assert "REVIEWBOT_TOKEN" in str(done.exception)


def test_no_option_takes_a_token() -> None:
    shown = CliRunner().invoke(app, ["post", "--help"]).stdout
    assert "--token" not in shown


def test_findings_are_written_for_hosts_that_read_them(tmp_path: Path) -> None:
    mesh = tmp_path / "plate.obj"
    mesh.write_text("o plate\nv 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n", "utf-8")
    sarif, junit = tmp_path / "found.sarif", tmp_path / "found.xml"
    command = ["check", str(mesh), "--json", str(tmp_path / "r.json"), "--no-pictures"]
    CliRunner().invoke(app, [*command, "--sarif", str(sarif), "--junit", str(junit)])
    assert json.loads(sarif.read_text("utf-8"))["version"] == "2.1.0"
    assert "<testsuites" in junit.read_text("utf-8")
