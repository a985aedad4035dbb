"""Histories read from real repositories."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest
from repositories import PLAIN, Repository

from reviewbot.errors import RevisionError
from reviewbot.history.changes import ChangeSet
from reviewbot.history.git import (
    History,
    blob_bytes,
    changed_files,
    commits_between,
    file_at,
    open_history,
    read_blobs,
    resolve,
)

# 60 lines, so that git sees a rename through a small edit.
LONG = b"".join(b"v %d 0 0\n" % n for n in range(60))
ODD_NAMES = [
    b"caf\xe9.obj",
    b"with blank .obj",
    b' leading "quotes".obj',
    b"two\nlines.obj",
    b"tab\there.obj",
    b"back\\slash.obj",
    b"-M100%.obj",
    b"--output=x.obj",
    b":(glob)*.obj",
    b"*.obj",
    b"a=>b {c => d}.obj",
    "Fußlampe \u202e灯.obj".encode(),
    b"$(touch pwned).obj",
    b"\x1b[31m.obj",
]


def everything(path: str) -> bool:
    return True


def changes(found: ChangeSet) -> dict[bytes, str]:
    return {file.raw_path: file.status for file in found.files}


def snapshot_of(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Every file below a folder, with its time of change and bytes."""
    return {
        str(path): (path.stat().st_mtime_ns, path.read_bytes())
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


class TestOpening:
    def test_a_folder_inside_the_work_tree_will_do(self, repository: Repository) -> None:
        commit = repository.commit({"props/jug.obj": b"1"})
        with open_history(repository.folder / "props") as history:
            assert resolve(history, "HEAD") == commit
            assert changes(changed_files(history, None, None, everything)) == {
                b"props/jug.obj": "added"
            }

    @pytest.mark.parametrize("name", ["nowhere", "plain", "file"])
    def test_says_that_there_is_no_repository(self, tmp_path: Path, name: str) -> None:
        (tmp_path / "plain").mkdir()
        (tmp_path / "file").write_bytes(b"")
        with pytest.raises(RevisionError, match=name):
            open_history(tmp_path / name)

    def test_a_bare_repository_is_read(self, repository: Repository, tmp_path: Path) -> None:
        repository.commit({"jug.obj": b"1"})
        repository.commit({"jug.obj": b"2"})
        repository.git("clone", "--quiet", "--bare", ".", str(tmp_path / "bare.git"))
        with open_history(tmp_path / "bare.git") as history:
            assert history.is_bare
            (changed,) = changed_files(history, None, None, everything).files
            assert list(read_blobs(history, [changed.before_blob, changed.after_blob])) == [
                b"1",
                b"2",
            ]

    def test_a_second_work_tree_shares_the_large_files(
        self, repository: Repository, tmp_path: Path
    ) -> None:
        repository.commit({"jug.obj": b"1"})
        repository.git("worktree", "add", "--quiet", str(tmp_path / "second"))
        with open_history(tmp_path / "second") as history:
            assert history.git_folder == (repository.folder / ".git").resolve()

    def test_a_repository_of_the_longer_hash_is_read_as_well(self, tmp_path: Path) -> None:
        repository = Repository(tmp_path)
        repository.git("init", "--quiet", "--object-format=sha256")
        first = repository.commit({"props/jug.obj": b"1"})
        with open_history(tmp_path) as history:
            found = changed_files(history, None, None, everything)
            assert (found.head_commit, len(first)) == (first, 64)
            assert changes(found) == {b"props/jug.obj": "added"}
            assert file_at(history, first, b"props/jug.obj") == b"1"

    def test_says_that_git_is_not_there(
        self, repository: Repository, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("git.Git.GIT_PYTHON_GIT_EXECUTABLE", "no-such-git")
        with pytest.raises(RevisionError, match="not installed"):
            open_history(repository.folder)

    def test_an_outer_git_has_no_say(
        self, repository: Repository, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Inside a hook git sets these, for another repository."""
        commit = repository.commit({"jug.obj": b"1"})
        other = Repository(tmp_path / "other")
        other.folder.mkdir()
        other.git("init", "--quiet")
        monkeypatch.setenv("GIT_DIR", str(other.folder / ".git"))
        monkeypatch.setenv("GIT_WORK_TREE", str(other.folder))
        monkeypatch.setenv("GIT_INDEX_FILE", str(other.folder / "index"))
        monkeypatch.setenv("GIT_OBJECT_DIRECTORY", str(other.folder / "objects"))
        monkeypatch.setenv("GIT_CONFIG_PARAMETERS", "'core.bare'='true'")
        with open_history(repository.folder) as history:
            assert resolve(history, "main") == commit
            assert file_at(history, commit, b"jug.obj") == b"1"


class TestResolving:
    def test_branches_tags_and_short_ids(self, repository: Repository, history: History) -> None:
        first = repository.commit({"jug.obj": b"1"})
        second = repository.commit({"jug.obj": b"2"})
        repository.git("tag", "-a", "approved", "-m", "Approved", first)
        for revision, commit in [
            ("main", second),
            ("HEAD~1", first),
            ("approved", first),
            (first[:10], first),
            (second, second),
        ]:
            assert resolve(history, revision) == commit

    @pytest.mark.parametrize(
        "revision",
        [
            "nowhere",
            "",
            "--all",
            "-h",
            "^HEAD",
            "HEAD..HEAD",
            "HEAD:jug.obj",
            "a\0b",
            "f" * 40,
            "\udcff\n",
        ],
    )
    def test_names_the_unknown_revision(
        self, repository: Repository, history: History, revision: str
    ) -> None:
        repository.commit({"jug.obj": b"1"})
        with pytest.raises(
            RevisionError, match=r"^'.*' names no commit in .*: give a branch"
        ) as info:
            resolve(history, revision)
        assert str(info.value).isprintable()

    def test_says_that_nothing_is_committed_yet(self, history: History) -> None:
        with pytest.raises(RevisionError, match="no commit yet"):
            changed_files(history, None, None, everything)


class TestChangedFiles:
    def test_a_first_commit_adds_everything(self, repository: Repository, history: History) -> None:
        commit = repository.commit({"jug.obj": b"1", "props/mug.obj": b"2"})
        found = changed_files(history, None, None, everything)
        assert (found.base_commit, found.head_commit) == (None, commit)
        assert changes(found) == {b"jug.obj": "added", b"props/mug.obj": "added"}

    def test_the_last_commit_against_its_parent(
        self, repository: Repository, history: History
    ) -> None:
        repository.commit({"jug.obj": b"1", "mug.obj": b"mug", "old.obj": LONG})
        base = repository.commit({"jug.obj": b"2"})
        (repository.folder / "mug.obj").unlink()
        repository.git("mv", "old.obj", "new.obj")
        head = repository.commit({"jug.obj": b"3", "cup.obj": b"cup"})
        found = changed_files(history, None, None, everything)
        assert (found.base_commit, found.head_commit) == (base, head)
        assert changes(found) == {
            b"cup.obj": "added",
            b"jug.obj": "changed",
            b"mug.obj": "removed",
            b"new.obj": "renamed",
        }
        renamed = found.files[-1]
        assert (renamed.before_path, renamed.path) == ("old.obj", "new.obj")
        assert renamed.before_blob == renamed.after_blob

    def test_a_rename_is_followed_through_an_edit(
        self, repository: Repository, history: History
    ) -> None:
        repository.commit({"old.obj": LONG})
        (repository.folder / "old.obj").unlink()
        repository.commit({"props/new.obj": LONG.replace(b"v 7 0 0", b"v 7 0 1")})
        (renamed,) = changed_files(history, None, None, everything).files
        assert (renamed.status, renamed.before_path) == ("renamed", "old.obj")
        assert b"v 7 0 0" in blob_bytes(history, renamed.before_blob or "")
        assert b"v 7 0 1" in blob_bytes(history, renamed.after_blob or "")

    def test_renames_are_found_whatever_the_owner_configured(
        self, repository: Repository, history: History
    ) -> None:
        repository.git("config", "diff.renames", "false")
        repository.git("config", "diff.renameLimit", "1")
        names = [f"{n}.obj" for n in range(8)]
        repository.commit({name: LONG + name.encode() * 20 for name in names})
        for name in names:
            repository.git("mv", name, f"new-{name}")
            repository.write(f"new-{name}", LONG + name.encode() * 20 + b"v 0 0 1\n")
        repository.commit()
        found = changed_files(history, None, None, everything)
        assert set(changes(found).values()) == {"renamed"}

    def test_a_branch_is_compared_from_where_it_left(
        self, repository: Repository, history: History
    ) -> None:
        start = repository.commit({"jug.obj": b"1", "mug.obj": b"1"})
        repository.git("checkout", "--quiet", "-b", "handle")
        repository.commit({"jug.obj": b"2"})
        repository.commit({"jug.obj": b"3"})
        repository.git("checkout", "--quiet", "main")
        repository.commit({"mug.obj": b"2"})
        found = changed_files(history, "main", "handle", everything)
        assert found.base_commit == start
        assert changes(found) == {b"jug.obj": "changed"}

    def test_a_merge_is_compared_with_its_first_parent(
        self, repository: Repository, history: History
    ) -> None:
        repository.commit({"jug.obj": b"1", "mug.obj": b"1"})
        repository.git("checkout", "--quiet", "-b", "handle")
        repository.commit({"jug.obj": b"2"})
        repository.git("checkout", "--quiet", "main")
        first = repository.commit({"mug.obj": b"2"})
        repository.git("merge", "--quiet", "--no-ff", "-m", "Merge", "handle")
        found = changed_files(history, None, None, everything)
        assert found.base_commit == first
        assert changes(found) == {b"jug.obj": "changed"}

    def test_unrelated_branches_are_said(self, repository: Repository, history: History) -> None:
        repository.commit({"jug.obj": b"1"})
        repository.git("checkout", "--quiet", "--orphan", "apart")
        repository.commit({"jug.obj": b"2"}, "Start again")
        with pytest.raises(RevisionError, match="no common commit here: they do not share"):
            changed_files(history, "main", "apart", everything)

    def test_only_wanted_files_are_listed(self, repository: Repository, history: History) -> None:
        repository.commit({"jug.obj": b"1", "notes.txt": b"1"})
        found = changed_files(history, None, None, lambda path: path.endswith(".obj"))
        assert changes(found) == {b"jug.obj": "added"}

    def test_links_and_modes_are_no_files(self, repository: Repository, history: History) -> None:
        repository.commit({"jug.obj": b"1", "mug.obj": b"1", "cup.obj": b"1"})
        (repository.folder / "link.obj").symlink_to("jug.obj")
        (repository.folder / "mug.obj").unlink()
        (repository.folder / "mug.obj").symlink_to("/etc/hostname")
        (repository.folder / "cup.obj").chmod(0o755)
        repository.commit()
        assert changes(changed_files(history, None, None, everything)) == {b"mug.obj": "removed"}

    def test_a_submodule_is_no_file(self, repository: Repository, history: History) -> None:
        commit = repository.commit({"jug.obj": b"1"})
        repository.git("update-index", "--add", "--cacheinfo", f"160000,{commit},kit.obj")
        repository.git("commit", "--quiet", "-m", "Add the kit")
        assert changed_files(history, None, None, everything).files == ()
        assert file_at(history, repository.head(), b"kit.obj") is None
        assert file_at(history, repository.head(), b"kit.obj/jug.obj") is None

    def test_odd_names_are_kept_byte_for_byte(
        self, repository: Repository, history: History
    ) -> None:
        repository.commit({name: LONG + name for name in ODD_NAMES})
        for name in ODD_NAMES[::2]:
            repository.write(name, b"changed " + name)
        commit = repository.commit()
        found = changed_files(history, None, None, everything)
        assert changes(found) == dict.fromkeys(sorted(ODD_NAMES[::2]), "changed")
        assert len({file.path for file in found.files}) == len(found.files)
        for file in found.files:
            assert file.path.isprintable()
            assert blob_bytes(history, file.after_blob or "") == b"changed " + file.raw_path
        for name in ODD_NAMES[1::2]:
            assert file_at(history, commit, name) == LONG + name
        assert not (repository.folder / "pwned").exists()

    def test_odd_names_are_followed_through_a_rename(
        self, repository: Repository, history: History
    ) -> None:
        repository.commit({b"\xff\nold.obj": LONG})
        os.rename(
            os.fsencode(repository.folder) + b"/\xff\nold.obj",
            os.fsencode(repository.folder) + b"/-\xfe new.obj",
        )
        repository.commit()
        (renamed,) = changed_files(history, None, None, everything).files
        assert (renamed.before_raw_path, renamed.raw_path) == (b"\xff\nold.obj", b"-\xfe new.obj")
        assert (renamed.before_path, renamed.path) == ("\\xff\\x0aold.obj", "-\\xfe new.obj")

    def test_the_checkout_is_not_touched(self, repository: Repository) -> None:
        repository.commit({"jug.obj": b"1"})
        commit = repository.commit({"jug.obj": b"2"})
        repository.write("jug.obj", b"not committed")
        before = snapshot_of(repository.folder)
        with open_history(repository.folder) as history:
            changed_files(history, None, None, everything)
            commits_between(history, None, None)
            file_at(history, commit, b"jug.obj")
        assert snapshot_of(repository.folder) == before


class TestShallowClones:
    @pytest.fixture
    def shallow(self, repository: Repository, tmp_path: Path) -> Path:
        repository.commit({"jug.obj": b"1"})
        repository.commit({"jug.obj": b"2"})
        repository.git("branch", "side")
        repository.commit({"jug.obj": b"3"})
        repository.git("checkout", "--quiet", "side")
        repository.commit({"mug.obj": b"3"})
        url = repository.folder.as_uri()
        to = str(tmp_path / "shallow")
        repository.git("clone", "--quiet", "--depth=1", "--no-single-branch", url, to)
        return tmp_path / "shallow"

    def test_says_that_the_commit_before_is_missing(self, shallow: Path) -> None:
        with open_history(shallow) as history:
            assert history.is_shallow
            with pytest.raises(RevisionError, match=r"shallow clone.*--deepen=1"):
                changed_files(history, None, None, everything)

    def test_says_that_the_common_commit_is_missing(self, shallow: Path) -> None:
        with (
            open_history(shallow) as history,
            pytest.raises(RevisionError, match=r"shallow.*--unshallow"),
        ):
            changed_files(history, "origin/main", "origin/side", everything)

    def test_says_it_for_an_unknown_revision(self, shallow: Path) -> None:
        with (
            open_history(shallow) as history,
            pytest.raises(RevisionError, match=r"names no commit.*clone is shallow"),
        ):
            resolve(history, "HEAD~1")

    def test_what_is_there_is_read(self, shallow: Path) -> None:
        with open_history(shallow) as history:
            assert len(commits_between(history, None, "origin/main")) == 1


class TestReading:
    def test_a_large_blob_comes_whole(self, repository: Repository, history: History) -> None:
        content = os.urandom(3_000_001)
        commit = repository.commit({"jug.obj": content, "empty.obj": b""})
        assert file_at(history, commit, b"jug.obj") == content
        assert file_at(history, commit, b"empty.obj") == b""

    @pytest.mark.parametrize("object_id", ["f" * 40, "HEAD", "HEAD:jug.obj", "x\ny", ""])
    def test_says_that_an_object_is_missing(
        self, repository: Repository, history: History, object_id: str
    ) -> None:
        commit = repository.commit({"jug.obj": b"1"})
        with pytest.raises(RevisionError, match="is not in"):
            blob_bytes(history, object_id)
        assert file_at(history, commit, b"jug.obj") == b"1"  # the reader goes on

    def test_a_commit_is_no_file(self, repository: Repository, history: History) -> None:
        with pytest.raises(RevisionError):
            blob_bytes(history, repository.commit({"jug.obj": b"1"}))

    def test_says_that_an_object_is_damaged(self, repository: Repository, history: History) -> None:
        commit = repository.commit({"jug.obj": os.urandom(5000), "mug.obj": b"2"})
        blob = repository.git("rev-parse", "HEAD:jug.obj").decode().strip()
        kept = repository.folder / ".git" / "objects" / blob[:2] / blob[2:]
        kept.chmod(0o644)
        kept.write_bytes(kept.read_bytes()[:2500])
        with pytest.raises(RevisionError, match="cannot read object"):
            blob_bytes(history, blob)
        assert file_at(history, commit, b"mug.obj") == b"2"

    def test_threads_share_one_reader(self, repository: Repository, history: History) -> None:
        files: dict[str | bytes, bytes] = {f"{n}.obj": b"%d " % n * 5000 for n in range(40)}
        commit = repository.commit(files)
        names = [os.fsencode(name) for name in files] * 4
        with ThreadPoolExecutor(8) as pool:
            found = list(pool.map(lambda name: file_at(history, commit, name), names))
        assert found == list(files.values()) * 4

    def test_a_reader_that_was_closed_starts_again(
        self, repository: Repository, history: History
    ) -> None:
        commit = repository.commit({"jug.obj": b"1"})
        assert file_at(history, commit, b"jug.obj") == b"1"
        history.objects.close()
        history.objects.close()
        assert file_at(history, commit, b"jug.obj") == b"1"

    def test_only_files_in_the_tree_are_found(
        self, repository: Repository, history: History
    ) -> None:
        (repository.folder / "outside").symlink_to("/etc")
        (repository.folder / "link.mtl").symlink_to("props/jug.mtl")
        commit = repository.commit({"props/jug.mtl": b"newmtl clay", "props/kit/bolt.obj": b"1"})
        repository.write("later.obj", b"not committed")
        assert file_at(history, commit, b"props/jug.mtl") == b"newmtl clay"
        assert file_at(history, commit, b"props/kit/bolt.obj") == b"1"
        for path in [
            b"",
            b"/",
            b"/etc/hostname",
            b"props",
            b"props/",
            b"props//jug.mtl",
            b"./props/jug.mtl",
            b"props/../props/jug.mtl",
            b"../studio/props/jug.mtl",
            b"link.mtl",
            b"outside/hostname",
            b"props/jug.mtl/more",
            b"Props/jug.mtl",
            b"later.obj",
            b".git/config",
        ]:
            assert file_at(history, commit, path) is None, path

    def test_each_commit_has_its_own_files(self, repository: Repository, history: History) -> None:
        first = repository.commit({"jug.mtl": b"1"})
        second = repository.commit({"jug.mtl": b"2"})
        assert [file_at(history, c, b"jug.mtl") for c in (first, second)] == [b"1", b"2"]


class TestCommitsBetween:
    def test_oldest_first_along_first_parents(
        self, repository: Repository, history: History
    ) -> None:
        base = repository.commit({"jug.obj": b"1"}, "Start")
        repository.git("checkout", "--quiet", "-b", "handle")
        repository.commit({"mug.obj": b"1"}, "On the branch")
        repository.git("checkout", "--quiet", "main")
        repository.commit({"jug.obj": b"2"}, "Round the rim\n\nIt was edgy.")
        repository.git("merge", "--quiet", "--no-ff", "-m", "Bring in the handle", "handle")
        found = commits_between(history, base, None)
        assert [commit.subject for commit in found] == ["Round the rim", "Bring in the handle"]
        assert found[0].author == "Ines Okafor"
        assert found[0].authored.isoformat() == "2024-03-01T09:00:00+01:00"
        assert [c.subject for c in commits_between(history, None, base)] == ["Start"]
        assert commits_between(history, "main", "main") == ()

    def test_each_commit_is_asked_for_its_own_date(
        self, repository: Repository, history: History, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A clock that was off once hides nothing behind it."""
        for day in (10, 2, 12):
            monkeypatch.setitem(PLAIN, "GIT_COMMITTER_DATE", f"2024-03-{day:02}T12:00:00Z")
            repository.commit(message=f"Day {day}")
        found = commits_between(history, None, None, since=datetime(2024, 3, 5, tzinfo=UTC))
        assert [commit.subject for commit in found] == ["Day 10", "Day 12"]


class TestStrangers:
    """Nothing that a repository holds makes git run code."""

    def test_no_configured_command_is_run(self, repository: Repository, tmp_path: Path) -> None:
        trap = tmp_path / "trap"
        ran = tmp_path / "ran"
        trap.write_text(f"#!/bin/sh\ntouch {ran}\n")
        trap.chmod(trap.stat().st_mode | stat.S_IXUSR)
        attributes = b"*.obj diff=trap filter=trap merge=trap\n"
        repository.commit({"jug.obj": b"1", ".gitattributes": attributes})
        repository.commit({"jug.obj": b"2"})
        hooks = repository.folder / ".git" / "hooks"
        hooks.mkdir(exist_ok=True)
        for hook in ("post-checkout", "reference-transaction", "post-index-change"):
            shutil.copy(trap, hooks / hook)
        for key in (
            *("diff.external", "diff.trap.command", "diff.trap.textconv", "core.fsmonitor"),
            *("filter.trap.smudge", "filter.trap.clean", "core.pager", "core.sshCommand"),
            *("gpg.program", "core.alternateRefsCommand", "core.editor"),
        ):
            repository.git("config", key, str(trap))
        repository.git("config", "log.showSignature", "true")
        with open_history(repository.folder) as history:
            found = changed_files(history, None, None, everything)
            assert changes(found) == {b"jug.obj": "changed"}
            assert len(commits_between(history, None, None)) == 2
            assert file_at(history, found.head_commit, b"jug.obj") == b"2"
            with pytest.raises(RevisionError):
                resolve(history, "nowhere")
        assert not ran.exists()

    def test_a_partial_clone_fetches_nothing(self, repository: Repository, tmp_path: Path) -> None:
        repository.commit({"jug.obj": b"1"})
        repository.git("config", "uploadpack.allowFilter", "true")
        to = tmp_path / "partial"
        url = repository.folder.as_uri()
        repository.git("clone", "--quiet", "--filter=blob:none", "--no-checkout", url, str(to))
        missing = subprocess.run(
            ["git", "rev-list", "--objects", "--missing=print", "HEAD"],
            cwd=to,
            check=True,
            capture_output=True,
        ).stdout
        blob = missing.decode().split("?")[1].strip()
        with open_history(to) as history, pytest.raises(RevisionError):
            blob_bytes(history, blob)

    def test_replaced_objects_are_not_followed(
        self, repository: Repository, history: History
    ) -> None:
        honest = repository.commit({"jug.obj": b"honest"})
        other = repository.commit({"jug.obj": b"swapped"})
        repository.git("replace", honest, other)
        assert file_at(history, honest, b"jug.obj") == b"honest"

    def test_a_repository_of_another_user_is_refused_with_a_way_out(
        self, repository: Repository, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Git's own switch for its tests makes every owner another one."""
        monkeypatch.setattr(
            "reviewbot.history.git._SAFE_ENVIRONMENT", {"GIT_TEST_ASSUME_DIFFERENT_OWNER": "1"}
        )
        monkeypatch.setenv("GIT_CONFIG_GLOBAL", os.devnull)
        with pytest.raises(RevisionError, match=r"belongs to another user.*safe.directory"):
            open_history(repository.folder)
