"""Files that a repository is given: what is written, what is left alone, what is said."""

from __future__ import annotations

from pathlib import Path

import pytest
from repositories import Repository
from typer.testing import CliRunner

from reviewbot.cli import app
from reviewbot.errors import UsageError
from reviewbot.readers.known import FORMATS
from reviewbot.setting_up.actions import Action, parse_action
from reviewbot.setting_up.files import hosted_files, large_file_lines
from reviewbot.setting_up.writing import set_up
from reviewbot.settings import Settings, read_settings

ACTION = "studio/reviewbot@" + "0123456789" * 4
WRITTEN = (
    ".github/workflows/reviewbot-review.yml",
    ".github/workflows/reviewbot-post.yml",
    "reviewbot.toml",
    ".gitattributes",
)


def init(folder: Path, *options: str) -> str:
    done = CliRunner().invoke(app, ["init", str(folder), *options])
    assert done.exit_code == 0, done.exception
    return done.stdout


def test_each_file_is_written_and_explained(tmp_path: Path) -> None:
    said = init(tmp_path, "--action", ACTION)
    for path in WRITTEN:
        assert (tmp_path / path).is_file()
        line = said.splitlines().index(f"wrote {path}")
        assert len(said.splitlines()[line + 1].split()) > 8
    assert {f.relative_to(tmp_path).as_posix() for f in tmp_path.rglob("*") if f.is_file()} == {
        *WRITTEN
    }


def test_a_second_run_changes_nothing(tmp_path: Path) -> None:
    init(tmp_path, "--action", ACTION)
    before = {path: (tmp_path / path).read_bytes() for path in WRITTEN}
    said = init(tmp_path, "--action", ACTION, "--force")
    assert {path: (tmp_path / path).read_bytes() for path in WRITTEN} == before
    assert "wrote" not in said
    assert "replaced" not in said


@pytest.mark.parametrize("path", WRITTEN[:3])
def test_what_is_there_is_left_alone_and_said_unless_forced(tmp_path: Path, path: str) -> None:
    mine = tmp_path / path
    mine.parent.mkdir(parents=True, exist_ok=True)
    mine.write_text("mine\n", encoding="utf-8")
    said = init(tmp_path, "--action", ACTION)
    assert mine.read_text("utf-8") == "mine\n"
    assert f"left {path} alone" in said
    said = init(tmp_path, "--action", ACTION, "--force")
    assert f"replaced {path}" in said
    assert mine.read_text("utf-8") != "mine\n"


def test_a_link_is_not_followed_out_of_the_repository(tmp_path: Path) -> None:
    outside = tmp_path / "outside.toml"
    outside.write_text("mine\n", encoding="utf-8")
    folder = tmp_path / "repository"
    folder.mkdir()
    (folder / "reviewbot.toml").symlink_to(outside)
    assert "left reviewbot.toml alone" in init(folder)
    init(folder, "--force")
    assert outside.read_text("utf-8") == "mine\n"
    assert not (folder / "reviewbot.toml").is_symlink()


def test_attributes_are_only_ever_added(tmp_path: Path) -> None:
    file = tmp_path / ".gitattributes"
    file.write_text("# ours\n*.obj text\n*.png filter=lfs diff=lfs merge=lfs -text", "utf-8")
    said = init(tmp_path, "--force")
    lines = file.read_text("utf-8").splitlines()
    assert lines[:3] == ["# ours", "*.obj text", "*.png filter=lfs diff=lfs merge=lfs -text"]
    assert sum(line.startswith("*.obj") for line in lines) == 1
    assert sum(line.startswith("*.png") for line in lines) == 1
    assert "*.fbx filter=lfs diff=lfs merge=lfs -text" in lines
    (added,) = [line for line in said.splitlines() if line.startswith("added to .gitattributes: ")]
    assert "*.fbx" in added
    assert "*.obj" not in added


def test_git_itself_takes_the_attributes_for_every_mesh_format(tmp_path: Path) -> None:
    repository = Repository(tmp_path)
    repository.git("init", "--quiet")
    init(tmp_path)
    names = [f"props/lantern{suffix}" for suffix in FORMATS] + ["props/brass.png"]
    shown = repository.git("check-attr", "filter", "--", *names).decode().splitlines()
    assert [line.rpartition(" ")[2] for line in shown] == ["lfs"] * len(names)
    assert len(large_file_lines()) == len(set(large_file_lines()))


def test_the_settings_change_nothing_until_they_are_changed(tmp_path: Path) -> None:
    init(tmp_path)
    assert read_settings(tmp_path / "reviewbot.toml") == Settings()


def test_without_an_action_the_workflows_fail_and_say_why(tmp_path: Path) -> None:
    said = init(tmp_path)
    assert "init --action OWNER/NAME@SHA" in said.splitlines()[-1]
    for path in WRITTEN[:2]:
        text = (tmp_path / path).read_text("utf-8")
        assert "exit 1" in text
        assert "- uses:" not in text


def test_an_action_named_later_completes_what_nobody_touched(tmp_path: Path) -> None:
    init(tmp_path)
    settings = tmp_path / "reviewbot.toml"
    settings.write_text("[texture]\nsize = 4096\n", encoding="utf-8")
    said = init(tmp_path, "--action", ACTION)
    assert f"replaced {WRITTEN[0]}" in said
    assert f"replaced {WRITTEN[1]}" in said
    assert "left reviewbot.toml alone" in said
    assert ACTION.partition("@")[2] in (tmp_path / WRITTEN[1]).read_text("utf-8")


def test_nothing_is_installed_by_its_bare_name(tmp_path: Path) -> None:
    """Nobody owns the name `reviewbot` in a registry: whoever takes it would run in these jobs."""
    for action in (None, parse_action(ACTION)):
        for file in hosted_files(action):
            assert "pip install" not in file.text
            assert "npx" not in file.text
    init(tmp_path, "--action", ACTION)
    text = (tmp_path / WRITTEN[0]).read_text("utf-8")
    assert "uses: studio/reviewbot/.github/actions/review@" + "0123456789" * 4 in text


@pytest.mark.parametrize(
    "text",
    [
        "studio/reviewbot",
        "studio/reviewbot@v1",
        "studio/reviewbot@main",
        "studio/reviewbot@0123456",
        "reviewbot@" + "0" * 40,
        "a/b/c@" + "0" * 40,
        "studio/review bot@" + "0" * 40,
        "studio/x@" + "0" * 40 + "\n      - run: echo",
    ],
)
def test_an_action_is_pinned_to_a_full_commit(text: str) -> None:
    with pytest.raises(UsageError, match="OWNER/NAME@SHA"):
        parse_action(text)
    assert parse_action(ACTION) == Action(repository="studio/reviewbot", commit="0123456789" * 4)


def test_a_folder_inside_a_repository_is_refused(tmp_path: Path) -> None:
    Repository(tmp_path).git("init", "--quiet")
    inside = tmp_path / "props"
    inside.mkdir()
    with pytest.raises(UsageError, match="set up its top"):
        set_up(inside, action=None, force=False)
    assert not list(inside.iterdir())


def test_what_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no such folder"):
        set_up(tmp_path / "missing", action=None, force=False)
    (tmp_path / ".github").write_text("a file where a folder should be", "utf-8")
    with pytest.raises(UsageError, match="cannot be set up"):
        set_up(tmp_path, action=None, force=True)
