"""The commands as a user runs them, in processes of their own, on real files and repositories."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest
from typer.testing import CliRunner

from reviewbot.cli import COMMANDS, app, app_of

CUBE = """\
o crate
v -0.5 0 -0.5
v 0.5 0 -0.5
v 0.5 1 -0.5
v -0.5 1 -0.5
v -0.5 0 0.5
v 0.5 0 0.5
v 0.5 1 0.5
v -0.5 1 0.5
vt 0.05 0.05
vt 0.25 0.05
vt 0.25 0.25
vt 0.05 0.25
vt 0.30 0.05
vt 0.50 0.05
vt 0.50 0.25
vt 0.30 0.25
vt 0.55 0.05
vt 0.75 0.05
vt 0.75 0.25
vt 0.55 0.25
vt 0.05 0.30
vt 0.25 0.30
vt 0.25 0.50
vt 0.05 0.50
vt 0.30 0.30
vt 0.50 0.30
vt 0.50 0.50
vt 0.30 0.50
vt 0.55 0.30
vt 0.75 0.30
vt 0.75 0.50
vt 0.55 0.50
f 5/1 6/2 7/3 8/4
f 2/5 1/6 4/7 3/8
f 6/9 2/10 3/11 7/12
f 1/13 5/14 8/15 4/16
f 8/17 7/18 3/19 4/20
f 1/21 2/22 6/23 5/24
"""


def scaled(text: str, factor: float) -> str:
    lines = [
        "v " + " ".join(str(float(word) * factor) for word in line.split()[1:])
        if line.startswith("v ")
        else line
        for line in text.splitlines()
    ]
    return "\n".join(lines) + "\n"


@pytest.fixture
def run(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    def command(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "reviewbot", *words],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )

    return command


def test_a_command_by_itself_is_what_it_is_among_the_others() -> None:
    for command in COMMANDS:
        name = command.__name__
        for options in (["--help"], ["--no-such-option"]):
            alone, among = (
                CliRunner().invoke(made, [name, *options], prog_name="reviewbot")
                for made in (app_of([command]), app)
            )
            assert f"reviewbot {name}" in alone.output
            assert (alone.exit_code, alone.output) == (among.exit_code, among.output)


def test_comparing_two_files_writes_every_report(tmp_path: Path, run: Callable) -> None:
    (tmp_path / "a.obj").write_text(CUBE)
    (tmp_path / "b.obj").write_text(scaled(CUBE, 100))
    done = run("compare", "a.obj", "b.obj", "--out", "out")
    assert done.returncode in (0, 1), done.stderr
    assert done.stderr == ""
    report = json.loads((tmp_path / "out/report.json").read_text())
    (asset,) = report["assets"]
    assert [(c["code"], c["value"]) for c in asset["changes"]] == [("scale", pytest.approx(100))]
    assert all(view["silhouette_iou"] == pytest.approx(1, abs=1e-3) for view in asset["views"])
    for picture in asset["pictures"]:
        assert (tmp_path / "out" / picture["file"]).stat().st_size > 0
    assert {"strip", "turntable"} <= {picture["kind"] for picture in asset["pictures"]}
    assert "100 times as large" in (tmp_path / "out/report.md").read_text()
    assert "100 times as large" in (tmp_path / "out/report.html").read_text()


def test_json_on_standard_output_is_the_report_and_nothing_else(
    tmp_path: Path, run: Callable
) -> None:
    (tmp_path / "a.obj").write_text(CUBE)
    done = run("compare", "a.obj", "a.obj", "--no-pictures", "--json", "-")
    report = json.loads(done.stdout)
    jsonschema.validate(report, json.loads(run("schema").stdout))
    assert (done.returncode, report["verdict"], done.stderr) == (0, "pass", "")
    assert report["assets"][0]["state"] == "same"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.obj"]


def test_an_unreadable_file_is_a_finding_and_the_other_is_reviewed(
    tmp_path: Path, run: Callable
) -> None:
    (tmp_path / "good.obj").write_text(CUBE)
    (tmp_path / "bad.obj").write_text(CUBE + "f 1 2 99\n")
    done = run("check", ".", "--no-pictures", "--json", "-")
    assets = {Path(a["path"]).name: a for a in json.loads(done.stdout)["assets"]}
    assert done.returncode == 1
    (finding,) = assets["bad.obj"]["findings"]
    assert (finding["code"], finding["severity"]) == ("unreadable", "stop")
    assert f"line {CUBE.count(chr(10)) + 1}" in finding["message"]
    assert assets["good.obj"]["state"] == "added"
    assert assets["good.obj"]["after"]["faces"] == 6


def test_a_file_that_can_be_read_again_is_reviewed_and_not_blamed(
    tmp_path: Path, run: Callable
) -> None:
    (tmp_path / "bad.obj").write_text("f 1 2 3\n")
    (tmp_path / "good.obj").write_text(CUBE)
    done = run("compare", "bad.obj", "good.obj", "--no-pictures", "--json", "-")
    (asset,) = json.loads(done.stdout)["assets"]
    unreadable = [f["standing"] for f in asset["findings"] if f["code"] == "unreadable"]
    assert (done.returncode, asset["state"], unreadable) == (0, "changed", ["fixed"])
    done = run("compare", "bad.obj", "bad.obj", "--no-pictures", "--json", "-")
    (asset,) = json.loads(done.stdout)["assets"]
    assert (done.returncode, [f["standing"] for f in asset["findings"]]) == (1, ["same"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["compare", "none.obj", "a.obj"], "none.obj: no such file"),
        (["compare", "a.obj", "a.txt"], "not a mesh format"),
        (["check", "nowhere"], "no such file or folder"),
        (["compare", "a.obj", "a.obj", "--renderer", "magic"], "auto, ray, gl"),
        (["compare", "a.obj", "a.obj", "--settings", "bad.toml"], "texture.sizes"),
        (["review", "."], "git repository"),
        (["frobnicate"], "No such command"),
        (["compare", "a.obj"], "Missing argument"),
    ],
)
def test_what_cannot_be_run_ends_with_status_2_and_no_traceback(
    tmp_path: Path, run: Callable, words: list[str], said: str
) -> None:
    (tmp_path / "a.obj").write_text(CUBE)
    (tmp_path / "a.txt").write_text("")
    (tmp_path / "bad.toml").write_text("[texture]\nsizes = 1\n")
    done = run(*words)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def git(folder: Path, *words: str) -> str:
    identity = ["-c", "user.name=Ines", "-c", "user.email=ines@saltmarsh.example"]
    return subprocess.run(
        ["git", *identity, *words], cwd=folder, check=True, capture_output=True, text=True
    ).stdout


def commit(folder: Path, **files: str) -> None:
    for name, text in files.items():
        (folder / f"{name}.obj").write_text(text)
    git(folder, "add", "-A")
    git(folder, "commit", "-qm", "next")


def test_review_looks_at_the_last_commit_unless_told(tmp_path: Path, run: Callable) -> None:
    git(tmp_path, "init", "-q")
    commit(tmp_path, crate=CUBE)
    first = json.loads(run("review", "--no-pictures", "--json", "-").stdout)
    assert [asset["state"] for asset in first["assets"]] == ["added"]
    commit(tmp_path, crate=scaled(CUBE, 0.01), other=CUBE)
    report = json.loads(run("review", ".", "--no-pictures", "--json", "-").stdout)
    changes = {asset["path"]: [c["code"] for c in asset["changes"]] for asset in report["assets"]}
    assert changes == {"crate.obj": ["scale"], "other.obj": []}
    assert report["base"] == git(tmp_path, "rev-parse", "HEAD~1").strip()


def test_a_change_cannot_loosen_the_settings_it_is_judged_by(tmp_path: Path, run: Callable) -> None:
    git(tmp_path, "init", "-q")
    (tmp_path / "reviewbot.toml").write_text('[gate]\nfail_on = "note"\n')
    commit(tmp_path, crate=CUBE)
    (tmp_path / "reviewbot.toml").write_text('[gate]\nfail_on = "never"\n')
    broken = CUBE.replace("f 8/17 7/18 3/19 4/20\n", "f 8 7 3 4\n")
    commit(tmp_path, crate=broken)
    done = run("review", "--no-pictures", "--json", "-")
    assert json.loads(done.stdout)["fail_on"] == "note"
    assert done.returncode == 1


def test_an_acceptance_lets_a_change_pass_from_the_next_commit_on(
    tmp_path: Path, run: Callable
) -> None:
    git(tmp_path, "init", "-q")
    (tmp_path / "reviewbot.toml").write_text('[gate]\nfail_on = "note"\n')
    commit(tmp_path, crate=CUBE)
    pentagon = CUBE + "v 0 3 0\nv 1 3 0\nv 1 4 0\nv 0.5 5 0\nv 0 4 0\nf 9 10 11 12 13\n"
    assert run("accept", "*", "--why", "x", "--who", "y").returncode == 2
    report = json.loads(_review_of(tmp_path, run, pentagon).stdout)
    codes = sorted({finding["code"] for finding in report["assets"][0]["findings"]})
    git(tmp_path, "reset", "-q", "--hard", "HEAD~1")
    added = run("accept", *codes, "--why", "a flag, meant open", "--who", "Ines")
    assert added.returncode == 0, added.stderr
    commit(tmp_path)
    done = _review_of(tmp_path, run, pentagon)
    findings = json.loads(done.stdout)["assets"][0]["findings"]
    assert {finding["accepted"] for finding in findings} == {"a flag, meant open (Ines)"}
    assert done.returncode == 0


def _review_of(folder: Path, run: Callable, text: str) -> subprocess.CompletedProcess[str]:
    commit(folder, crate=text)
    return run("review", "--no-pictures", "--json", "-")
