"""Large files kept beside git, with the real tool where it is installed."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest
from repositories import Repository

from reviewbot.errors import MeshReadError, UsageError
from reviewbot.history.address import parse_address
from reviewbot.history.content import file_bytes, sibling_bytes
from reviewbot.history.git import History, changed_files, open_history
from reviewbot.history.large_files import interface_url, trusted_server

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


@pytest.mark.skipif(shutil.which("git-lfs") is None, reason="git-lfs is not installed")
class TestTheTrustedServer:
    """Large files that are not here come from the server that the environment names, and no other.

    The real tool, on real repositories over file://.
    """

    @pytest.fixture
    def server(self, repository: Repository, tmp_path: Path) -> Path:
        """A server that holds the large files of `repository`."""
        server = tmp_path / "server.git"
        repository.git("lfs", "install", "--local")
        repository.git("lfs", "track", "*.obj")
        repository.git("init", "--quiet", "--bare", str(server))
        repository.git("remote", "add", "origin", server.as_uri())
        repository.commit({"jug.obj": CONTENT})
        repository.git("push", "--quiet", "origin", "main")
        return server

    @pytest.fixture
    def mirror(self, repository: Repository, server: Path, tmp_path: Path) -> Path:
        """A bare clone of it, without the large files."""
        mirror = tmp_path / "mirror.git"
        repository.git("clone", "--quiet", "--mirror", server.as_uri(), str(mirror))
        assert not (mirror / "lfs").exists()
        return mirror

    def test_brings_what_is_missing_and_keeps_it(
        self,
        repository: Repository,
        server: Path,
        mirror: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        monkeypatch.setenv("REVIEWBOT_LFS_URL", server.as_uri())
        with open_history(mirror) as history:
            assert sibling_bytes(history, repository.head(), b"jug.obj") == CONTENT
        shutil.rmtree(server)
        with open_history(mirror) as history:
            assert sibling_bytes(history, repository.head(), b"jug.obj") == CONTENT
        assert not (mirror / "hooks" / "pre-push").exists()  # the tool would leave some
        assert [path.name for path in (mirror / "lfs").iterdir()] == ["objects"]

    def test_the_repository_s_own_word_is_not_heard(
        self,
        repository: Repository,
        server: Path,
        mirror: Path,
        tmp_path: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        """`.lfsconfig` and the clone's own settings point elsewhere; only the operator's counts."""
        empty = tmp_path / "empty.git"
        repository.git("init", "--quiet", "--bare", str(empty))
        repository.commit({".lfsconfig": f"[lfs]\n\turl = {server.as_uri()}\n".encode()})
        repository.git("push", "--quiet", "origin", "main")
        repository.git("fetch", "--quiet", cwd=mirror)
        repository.git("config", "lfs.url", server.as_uri(), cwd=mirror)
        repository.git("config", "remote.origin.lfsurl", server.as_uri(), cwd=mirror)
        with open_history(mirror) as history:
            with pytest.raises(MeshReadError, match="is not on this machine"):
                sibling_bytes(history, repository.head(), b"jug.obj")
            monkeypatch.setenv("REVIEWBOT_LFS_URL", empty.as_uri())
            with pytest.raises(MeshReadError, match=r"cannot be brought from .*empty\.git"):
                sibling_bytes(history, repository.head(), b"jug.obj")

    def test_other_bytes_are_refused(
        self,
        repository: Repository,
        server: Path,
        mirror: Path,
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        (kept,) = (path for path in (server / "lfs").rglob("*") if path.is_file())
        kept.chmod(0o644)
        kept.write_bytes(CONTENT[::-1])
        monkeypatch.setenv("REVIEWBOT_LFS_URL", server.as_uri())
        with open_history(mirror) as history, pytest.raises(MeshReadError, match=r"^jug\.obj: its"):
            sibling_bytes(history, repository.head(), b"jug.obj")

    @pytest.mark.parametrize("address", ["http://host/x", "ext::sh -c true", "/srv/files", "host"])
    def test_only_an_address_that_is_spoken_will_do(
        self, monkeypatch: pytest.MonkeyPatch, address: str
    ) -> None:
        monkeypatch.setenv("REVIEWBOT_LFS_URL", address)
        with pytest.raises(UsageError):
            trusted_server()


@pytest.mark.parametrize(
    ("address", "asked"),
    [
        # As git-lfs's "Server Discovery" has it, from memory; the third has no repository.
        ("https://git-server.com/foo/bar.git", "https://git-server.com/foo/bar.git/info/lfs"),
        ("https://git-server.com/foo/bar.git/info/lfs",) * 2,
        ("https://large.studio.example/props",) * 2,
        ("file:///srv/props.git",) * 2,
        ("ssh://git@git-server.com/foo/bar.git",) * 2,
    ],
)
def test_git_lfs_asks_below_a_repository_s_address(address: str, asked: str) -> None:
    parsed = parse_address(address)
    assert parsed is not None
    assert interface_url(parsed) == asked
