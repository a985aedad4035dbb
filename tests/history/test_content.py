"""Large files kept beside git, with the real tool where it is installed."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest
from repositories import Repository

from reviewbot.errors import MeshReadError
from reviewbot.history.content import file_bytes, sibling_bytes
from reviewbot.history.git import History, changed_files, open_history

CONTENT = b"".join(b"v %d 1 2\n" % n for n in range(500))
POINTER = (
    "version https://git-lfs.github.com/spec/v1\n"
    f"oid sha256:{hashlib.sha256(CONTENT).hexdigest()}\nsize {len(CONTENT)}\n"
).encode()


def everything(path: str) -> bool:
    return True


def test_a_plain_file_is_itself(repository: Repository, history: History) -> None:
    commit = repository.commit({"jug.obj": b"v 1 2 3\n"})
    (added,) = changed_files(history, None, None, everything).files
    assert file_bytes(history, added.after_blob or "", path=added.path) == b"v 1 2 3\n"
    assert sibling_bytes(history, commit, b"jug.obj") == b"v 1 2 3\n"
    assert sibling_bytes(history, commit, b"jug.mtl") is None


def test_a_missing_large_file_is_told_with_its_path(
    repository: Repository, history: History
) -> None:
    commit = repository.commit({"props/jug.obj": POINTER})
    (added,) = changed_files(history, None, None, everything).files
    with pytest.raises(MeshReadError, match=r"^props/jug\.obj: only its large-file pointer"):
        file_bytes(history, added.after_blob or "", path=added.path)
    with pytest.raises(MeshReadError, match=r"^props/jug\.obj: only its large-file pointer"):
        sibling_bytes(history, commit, b"props/jug.obj")


@pytest.mark.skipif(shutil.which("git-lfs") is None, reason="git-lfs is not installed")
class TestWithTheRealTool:
    @pytest.fixture
    def studio(self, repository: Repository) -> Repository:
        repository.git("lfs", "install", "--local")
        repository.git("lfs", "track", "*.obj")
        return repository

    def test_its_pointers_and_objects_are_understood(self, studio: Repository) -> None:
        studio.commit({"jug.obj": CONTENT})
        assert studio.git("cat-file", "blob", "HEAD:jug.obj") == POINTER
        with open_history(studio.folder) as history:
            assert sibling_bytes(history, studio.head(), b"jug.obj") == CONTENT

    def test_a_second_work_tree_finds_them(self, studio: Repository, tmp_path: Path) -> None:
        studio.commit({"jug.obj": CONTENT})
        studio.git("worktree", "add", "--quiet", str(tmp_path / "second"))
        with open_history(tmp_path / "second") as history:
            assert sibling_bytes(history, studio.head(), b"jug.obj") == CONTENT

    def test_a_clone_has_them_once_they_are_fetched(
        self, studio: Repository, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        server = tmp_path / "server.git"
        studio.git("init", "--quiet", "--bare", str(server))
        studio.git("remote", "add", "origin", server.as_uri())
        studio.commit({"jug.obj": CONTENT})
        studio.git("push", "--quiet", "origin", "main")
        monkeypatch.setenv("GIT_LFS_SKIP_SMUDGE", "1")
        clone = Repository(tmp_path / "clone")
        studio.git("clone", "--quiet", "--branch=main", server.as_uri(), str(clone.folder))
        with open_history(clone.folder) as history:
            with pytest.raises(MeshReadError, match="not on this machine"):
                sibling_bytes(history, studio.head(), b"jug.obj")
            clone.git("lfs", "fetch", "--all")
            assert sibling_bytes(history, studio.head(), b"jug.obj") == CONTENT
