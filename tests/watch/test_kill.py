"""A watcher that is killed at any moment loses nothing, and writes and posts nothing twice.

Real processes, ended by SIGKILL; a real repository; a stand-in host on a socket of this machine.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import pytest
from code_host import API, BOT, StandIn
from loopback import served
from repositories import PLAIN, Repository
from watch.lives import Life, lived, new_repository

from reviewbot.watch.posting import Board

CUBE = b"o crate\nv 0 0 0\nv 1 0 0\nv 1 0 1\nv 0 0 1\nf 4 3 2 1\n"
REQUEST = "refs/pull/2/head"


@dataclass
class Scene:
    """A repository with a branch and a request, a host, and what was committed so far."""

    repository: Repository
    host: StandIn
    folder: Path
    board: Board
    on_branch: list[str]
    on_request: list[str]

    def commit(self, *, has_mesh: bool) -> None:
        """One more commit on the branch, and one on the request."""
        number = len(self.on_branch)
        mesh = {"crate.obj": CUBE + b"# %d\n" % number} if has_mesh else {}
        self.on_branch.append(self.repository.commit({**mesh, "notes": b"%d" % number}))
        tip = self.on_request[-1] if self.on_request else self.on_branch[0]
        tree = self.repository.git("rev-parse", "HEAD^{tree}").decode().strip()
        made = self.repository.git("commit-tree", "-p", tip, "-m", f"Part {number}", tree)
        self.on_request.append(made.decode().strip())
        self.repository.git("update-ref", REQUEST, self.on_request[-1])

    def reports(self) -> Counter[str]:
        return Counter(file.parent.name for file in (self.folder / "out").rglob("report.json"))

    def assert_each_exactly_once(self) -> None:
        """A report for each commit, a verdict beside each, and one comment, with the last word."""
        made = [*self.on_branch, *self.on_request]
        assert len(set(made)) == len(made)
        assert self.reports() == Counter(made)
        assert Counter(status["sha"] for status in self.host.statuses) == Counter(made)
        order = [s["sha"] for s in self.host.statuses if s["sha"] in self.on_branch]
        assert order == self.on_branch
        order = [s["sha"] for s in self.host.statuses if s["sha"] in self.on_request]
        assert order == self.on_request
        (comment,) = self.host.comments.values()
        assert comment["user"]["login"] == BOT
        assert self.on_request[-1][:10] in comment["body"]
        assert not list((self.folder / "out").rglob("*.part"))


@pytest.fixture
def scene(tmp_path: Path) -> Scene:
    repository = new_repository(tmp_path / "studio")
    with ExitStack() as stack:
        host = StandIn()
        address = stack.enter_context(served(host.answer, below="/api/v3", seen_as=API))
        board = Board(host="github", server=address, repository="studio/props")
        yield Scene(repository, host, tmp_path / "desk", board, [], [])


def kill_at_every_step(scene: Scene, text: str, lives: int) -> int:
    """Lives that are cut off one step later each time; how many were."""
    killed = 0
    for number in range(lives):
        scene.commit(has_mesh=number % 12 == 0)
        step = 1 + number % 30
        status = lived(Life(folder=scene.folder, text=text, board=scene.board, ends_at=step))
        assert status in (0, -signal.SIGKILL)
        killed += status == -signal.SIGKILL
    assert lived(Life(folder=scene.folder, text=text, board=scene.board, ends_at=0)) == 0
    return killed


def test_killed_at_one_step_after_the_other(scene: Scene) -> None:
    killed = kill_at_every_step(scene, str(scene.repository.folder), 14)
    assert killed == 14
    scene.assert_each_exactly_once()


@pytest.mark.slow
@pytest.mark.parametrize("of", [str, Path.as_uri], ids=["path", "address"])
def test_killed_at_many_more_steps(scene: Scene, of: Callable[[Path], str]) -> None:
    killed = kill_at_every_step(scene, of(scene.repository.folder), 60)
    assert killed == 60
    scene.assert_each_exactly_once()


@pytest.mark.slow
def test_the_command_is_killed_at_any_moment(scene: Scene) -> None:
    """As it is run, with its own processes and threads; whenever the dice say."""
    dice = random.Random(7)
    words = [str(scene.repository.folder), "--requests", "--since", "all", "--post"]
    words += ["--host", "github", "--server", scene.board.server, "--repo", "studio/props"]
    words += ["--out", str(scene.folder / "out"), "--no-pictures", "--workers", "1"]
    command = [sys.executable, "-m", "reviewbot", "watch", *words, "--log-format", "json"]
    environment = {**os.environ, **PLAIN, "REVIEWBOT_TOKEN": "t0ken"}
    for number in range(25):
        scene.commit(has_mesh=number % 2 == 0)
        running = subprocess.Popen(command, env=environment, stderr=subprocess.PIPE)
        try:
            _, errors = running.communicate(timeout=dice.uniform(1.5, 8.0))
        except subprocess.TimeoutExpired:
            running.kill()
            _, errors = running.communicate()
        assert running.returncode == -signal.SIGKILL, errors
        # The interpreter has its own word on what a killed process leaves behind.
        assert all(json.loads(line) for line in errors.splitlines() if line.startswith(b"{"))
    done = subprocess.run([*command, "--once"], env=environment, check=False, timeout=300)
    assert done.returncode in (0, 1)
    scene.assert_each_exactly_once()
