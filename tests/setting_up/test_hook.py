"""The local hook in real repositories: it nudges, and never holds a commit back."""

from __future__ import annotations

import os
import shlex
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from repositories import PLAIN, Repository

from reviewbot.errors import UsageError
from reviewbot.setting_up import hook
from reviewbot.setting_up.hook import install_hook, installed_command

MESH = b"o plate\nv 0 0 0\nv 1 0 0\nv 1 1 0\nf 1 2 3\n"


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    made = Repository(tmp_path / "props of the studio")
    made.folder.mkdir()
    made.git("init", "--quiet")
    return made


@pytest.fixture
def as_tool(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Path]:
    """Takes a shell script for the installed tool."""

    def take(script: str) -> Path:
        tool = tmp_path / "it's here" / "reviewbot"
        tool.parent.mkdir(exist_ok=True)
        tool.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
        tool.chmod(0o755)
        monkeypatch.setattr(hook, "installed_command", lambda: str(tool))
        return tool

    return take


def commit(repository: Repository, name: str = "plate.obj") -> subprocess.CompletedProcess[str]:
    """As an artist makes one, with nobody waiting for what runs on in the background."""
    repository.write(name, MESH + os.urandom(8).hex().encode().join((b"# ", b"\n")))
    repository.git("add", "--all")
    return subprocess.run(
        ["git", "commit", "--quiet", "-m", "Export again"],
        cwd=repository.folder,
        env={**os.environ, **PLAIN, "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )


def eventually(what: Callable[[], bool]) -> bool:
    until = time.monotonic() + 20
    while not what() and time.monotonic() < until:
        time.sleep(0.02)
    return what()


def test_it_looks_at_the_commit_in_the_background(
    repository: Repository, as_tool: Callable[[str], Path], tmp_path: Path
) -> None:
    gate, seen = tmp_path / "gate", tmp_path / "seen"
    os.mkfifo(gate)
    as_tool(f'read -r _ <{shlex.quote(str(gate))}\necho "$@" >{shlex.quote(str(seen))}\nexit 1')
    install_hook(repository.folder)
    done = commit(repository)  # the tool is still waiting: the commit did not
    assert done.returncode == 0
    assert "reviewbot looks at this commit: " in done.stderr
    assert not seen.exists()
    gate.write_text("go\n", encoding="utf-8")
    assert eventually(seen.exists)
    out = repository.folder / ".git" / "reviewbot" / "report"
    assert eventually(lambda: "ended with status 1" in (out.parent / "log").read_text("utf-8"))
    assert seen.read_text("utf-8").split(" --head ")[1].split() == [
        repository.head(),
        "--out",
        *str(out).split(),
    ]


@pytest.mark.parametrize(
    "script",
    ["exit 2", "kill -9 $$", "exec /no/such/program", "echo x; echo y >&2; exit 1"],
    ids=["cannot-run", "killed", "crashes", "finds"],
)
def test_no_commit_ever_fails_by_it(
    repository: Repository, as_tool: Callable[[str], Path], script: str
) -> None:
    as_tool(script)
    install_hook(repository.folder)
    for _ in range(3):
        before = len(repository.git("rev-list", "--all").splitlines())
        assert commit(repository).returncode == 0
        assert len(repository.git("rev-list", "--all").splitlines()) == before + 1


def test_a_tool_that_is_gone_is_said_and_holds_nothing_back(
    repository: Repository, as_tool: Callable[[str], Path]
) -> None:
    tool = as_tool("exit 0")
    install_hook(repository.folder)
    tool.unlink()
    done = commit(repository)
    assert done.returncode == 0
    assert "not on this machine any more" in done.stderr


def test_a_folder_that_cannot_be_written_holds_nothing_back(
    repository: Repository, as_tool: Callable[[str], Path]
) -> None:
    as_tool("exit 0")
    install_hook(repository.folder)
    (repository.folder / ".git" / "reviewbot").write_text("a file in the way", "utf-8")
    assert commit(repository).returncode == 0


def test_a_commit_without_meshes_is_passed_over(
    repository: Repository, as_tool: Callable[[str], Path], tmp_path: Path
) -> None:
    as_tool(f"touch {shlex.quote(str(tmp_path / 'seen'))}")
    install_hook(repository.folder)
    done = commit(repository, "notes.txt")
    assert (done.returncode, done.stderr) == (0, "")
    assert not (repository.folder / ".git" / "reviewbot").exists()


@pytest.mark.parametrize("name", ["-n.obj", "--exec=x.FBX", "$(touch owned).glb", "läm pe.ply"])
def test_a_file_s_name_is_no_option_and_no_command(
    repository: Repository, as_tool: Callable[[str], Path], name: str
) -> None:
    as_tool("exit 0")
    install_hook(repository.folder)
    done = commit(repository, name)
    assert done.returncode == 0
    assert "looks at this commit" in done.stderr
    assert not (repository.folder / "owned").exists()


def test_the_one_at_work_looks_at_the_newest_commit_too(
    repository: Repository, as_tool: Callable[[str], Path], tmp_path: Path
) -> None:
    gate, seen = tmp_path / "gate", tmp_path / "seen"
    os.mkfifo(gate)
    as_tool(f'echo "$@" >>{shlex.quote(str(seen))}\nread -r _ <{shlex.quote(str(gate))}')
    install_hook(repository.folder)
    commit(repository)
    assert eventually(seen.exists)
    for _ in range(2):
        assert "looks at this commit" not in commit(repository).stderr
    for _ in range(2):
        gate.write_text("go\n", encoding="utf-8")
        time.sleep(0.05)
    pid = repository.folder / ".git" / "reviewbot" / "pid"
    assert eventually(lambda: not pid.exists())
    looked_at = seen.read_text("utf-8").splitlines()
    assert len(looked_at) == 2
    assert repository.head() in looked_at[1]


def test_a_hook_of_somebody_else_stays(repository: Repository) -> None:
    path = repository.folder / ".git" / "hooks" / "post-commit"
    path.parent.mkdir(exist_ok=True)
    path.write_text("#!/bin/sh\necho mine\n", encoding="utf-8")
    assert "left" in install_hook(repository.folder)[0]
    assert path.read_text("utf-8") == "#!/bin/sh\necho mine\n"


def test_our_own_is_renewed(repository: Repository) -> None:
    assert install_hook(repository.folder)[0].startswith("wrote ")
    assert install_hook(repository.folder)[0].startswith("replaced ")


def test_hooks_that_are_kept_elsewhere_stay(repository: Repository, tmp_path: Path) -> None:
    repository.git("config", "core.hooksPath", str(tmp_path / "team hooks"))
    said = install_hook(repository.folder)
    assert str(tmp_path / "team hooks") in said[0]
    assert not (tmp_path / "team hooks").exists()
    assert not (repository.folder / ".git" / "hooks" / "post-commit").exists()


def test_a_linked_work_tree_has_the_hook_of_its_repository(
    repository: Repository, as_tool: Callable[[str], Path], tmp_path: Path
) -> None:
    as_tool("exit 0")
    repository.commit({"a.txt": b"a"})
    linked = Repository(tmp_path / "linked")
    repository.git("worktree", "add", "--quiet", "-b", "uvs", str(linked.folder))
    install_hook(linked.folder)
    done = commit(linked)
    assert done.returncode == 0
    assert "looks at this commit" in done.stderr


def test_outside_a_repository_it_is_refused(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "missing"):
        with pytest.raises(UsageError):
            install_hook(folder)


def test_the_tool_is_called_where_it_is_installed() -> None:
    command = installed_command()
    assert command is not None
    assert os.access(command, os.X_OK)
    assert Path(command).is_absolute()


@pytest.mark.slow
def test_the_real_tool_writes_the_page(repository: Repository) -> None:
    install_hook(repository.folder)
    assert commit(repository).returncode == 0
    out = repository.folder / ".git" / "reviewbot"
    assert eventually((out / "report" / "report.html").exists), (out / "log").read_text()
    assert eventually(lambda: not (out / "pid").exists())
