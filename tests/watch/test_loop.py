"""What the watcher does, when and how often; git and the state are real, time is told."""

from __future__ import annotations

from pathlib import Path

import pytest
from repositories import PLAIN, Repository
from watch.lives import Desk, new_repository

from reviewbot.watch.news import Choice
from reviewbot.watch.posting import Board
from reviewbot.watch.work import Outcome, ReviewOrder

FAILED = Outcome(result="failed", told="it broke")
AWAY = Outcome(result="away", told="the host cannot be reached")
BOARD = Board(host="github", server=None, repository="studio/props")


def reviewed(desk: Desk) -> list[str]:
    return desk.worker.reviewed()


class TestWhatIsReviewed:
    def test_nothing_that_is_there_at_the_first_look(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        assert desk.run() == 0
        assert reviewed(desk) == []
        assert desk.names() == ["first-look"]

    def test_every_new_commit_once_and_oldest_first(
        self, studio: Repository, desk: Desk, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        studio.commit()
        desk.run()
        made = []
        for day in (9, 2, 5):  # clocks that are off change nothing
            monkeypatch.setitem(PLAIN, "GIT_COMMITTER_DATE", f"2024-03-{day:02}T12:00:00Z")
            made.append(studio.commit())
        for _ in range(3):
            desk.run()
        assert reviewed(desk) == made
        assert desk.names().count("reviewed") == 3

    def test_everything_there_is_on_request(self, studio: Repository, desk: Desk) -> None:
        made = [studio.commit() for _ in range(3)]
        desk.choice = Choice(since="all")
        desk.run()
        assert reviewed(desk) == made

    def test_from_a_revision_on(self, studio: Repository, desk: Desk) -> None:
        made = [studio.commit() for _ in range(3)]
        desk.choice = Choice(since=made[0][:12])
        desk.run()
        assert reviewed(desk) == made[1:]

    def test_an_unknown_revision_is_said(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.choice = Choice(since="nowhere")
        assert desk.run() == 2
        assert "'nowhere' names no commit" in desk.told[0].message

    def test_a_commit_on_two_branches_is_one(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        studio.git("checkout", "--quiet", "-b", "side")
        made = studio.commit(message="Side")
        studio.git("branch", "third")
        desk.run()
        studio.git("checkout", "--quiet", "main")
        studio.git("merge", "--quiet", "--ff-only", "side")
        desk.run()
        assert reviewed(desk) == [made]

    def test_a_new_branch_brings_only_its_own(self, studio: Repository, desk: Desk) -> None:
        for _ in range(3):
            studio.commit()
        desk.run()
        studio.git("checkout", "--quiet", "-b", "side", "HEAD~1")
        made = studio.commit(message="Side")
        desk.run()
        assert reviewed(desk) == [made]

    def test_what_a_merge_brings_and_the_merge(self, studio: Repository, desk: Desk) -> None:
        desk.choice = Choice(branches=("main",))
        studio.commit()
        desk.run()
        studio.git("checkout", "--quiet", "-b", "side")
        side = studio.commit(message="Side")
        desk.run()
        assert reviewed(desk) == []
        studio.git("checkout", "--quiet", "main")
        studio.git("merge", "--quiet", "--no-ff", "-m", "Merge", "side")
        desk.run()
        assert reviewed(desk) == [side, studio.head()]

    def test_chosen_branches_only(self, studio: Repository, desk: Desk) -> None:
        desk.choice = Choice(branches=("main", "props/*"))
        studio.commit()
        desk.run()
        made = {}
        for branch in ("props/lantern", "sound/horn"):
            studio.git("checkout", "--quiet", "-b", branch, "main")
            made[branch] = studio.commit(message=branch)
        desk.run()
        assert reviewed(desk) == [made["props/lantern"]]
        desk.choice = Choice()  # what is chosen later begins where it stands then
        later = studio.commit(message="Later")
        desk.run()
        assert reviewed(desk) == [made["props/lantern"], later]

    def test_a_first_branch_is_all_new(self, studio: Repository, desk: Desk) -> None:
        desk.run()
        made = studio.commit()
        desk.run()
        assert reviewed(desk) == [made]


class TestRequests:
    @pytest.fixture
    def request_desk(self, studio: Repository, desk: Desk) -> Desk:
        desk.choice = Choice(branches=("main",), with_requests=True)
        studio.commit()
        desk.run()
        return desk

    def push(self, studio: Repository, ref: str, count: int = 1) -> list[str]:
        """Commits that only the request's own reference holds."""
        studio.git("checkout", "--quiet", "--detach", "main")
        made = [studio.commit(message=f"{ref} {n}") for n in range(count)]
        studio.git("update-ref", ref, made[-1])
        studio.git("checkout", "--quiet", "main")
        return made

    @pytest.mark.parametrize("ref", ["refs/pull/7/head", "refs/merge-requests/7/head"])
    def test_its_commits_are_compared_with_the_default_branch(
        self, studio: Repository, request_desk: Desk, ref: str
    ) -> None:
        made = self.push(studio, ref, 2)
        request_desk.run()
        assert reviewed(request_desk) == made
        (first, _) = request_desk.worker.orders
        assert isinstance(first, ReviewOrder)
        assert first.base == studio.head()
        assert first.folder.parent.name == "request-7"

    def test_what_was_reviewed_on_it_is_not_again_once_merged(
        self, studio: Repository, request_desk: Desk
    ) -> None:
        made = self.push(studio, "refs/pull/7/head", 2)
        request_desk.run()
        studio.git("merge", "--quiet", "--no-ff", "-m", "Merge", made[-1])
        request_desk.run()
        assert reviewed(request_desk) == [*made, studio.head()]

    def test_two_requests_for_the_same_commits_are_two(
        self, studio: Repository, request_desk: Desk
    ) -> None:
        (made,) = self.push(studio, "refs/pull/7/head")
        studio.git("update-ref", "refs/pull/8/head", made)
        request_desk.run()
        assert reviewed(request_desk) == [made, made]

    def test_what_is_open_at_the_first_look_is_not_new(
        self, studio: Repository, desk: Desk
    ) -> None:
        studio.commit()
        desk.run()  # without requests
        self.push(studio, "refs/pull/7/head")
        desk.choice = Choice(with_requests=True)
        desk.run()
        assert reviewed(desk) == []

    def test_they_are_left_alone_unless_wanted(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        self.push(studio, "refs/pull/7/head")
        desk.run()
        assert reviewed(desk) == []


class TestHistoryThatChanges:
    def test_a_force_push(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        first = studio.commit(message="First")
        desk.run()
        studio.git("reset", "--quiet", "--hard", "HEAD~1")
        second = studio.commit(message="Second")
        desk.run()
        assert reviewed(desk) == [first, second]
        assert [e.commit for e in desk.told if e.name == "rewritten"] == [second]

    def test_a_step_back_brings_nothing(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        studio.commit()
        desk.run()
        studio.git("reset", "--quiet", "--hard", "HEAD~1")
        desk.run()
        assert reviewed(desk) == []
        assert desk.names()[-1] == "rewritten"

    def test_a_whole_new_history(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        studio.git("checkout", "--quiet", "--orphan", "fresh")
        made = [studio.commit(message="Anew"), studio.commit(message="And on")]
        studio.git("branch", "--force", "main", "fresh")
        studio.git("checkout", "--quiet", "main")
        studio.git("branch", "-D", "fresh")
        desk.run()
        assert reviewed(desk) == made

    def test_the_old_history_may_be_gone_altogether(self, studio: Repository, desk: Desk) -> None:
        studio.commit({"jug.obj": b"1"})
        desk.run()
        studio.git("commit", "--quiet", "--amend", "-m", "Rewritten")
        studio.git("reflog", "expire", "--expire=now", "--all")
        studio.git("gc", "--quiet", "--prune=now")
        desk.run()
        assert reviewed(desk) == [studio.head()]
        assert "rewritten" in desk.names()

    def test_a_branch_that_goes_and_comes_back(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        studio.git("branch", "side")
        studio.git("checkout", "--quiet", "side")
        made = studio.commit(message="Side")
        desk.run()
        studio.git("checkout", "--quiet", "main")
        studio.git("branch", "-D", "side")
        desk.run()
        desk.run()
        studio.git("branch", "side", made)
        desk.run()
        assert reviewed(desk) == [made]
        assert [name for name in desk.names() if name in ("gone", "back")] == ["gone", "back"]

    def test_a_checkout_is_not_touched(self, studio: Repository, desk: Desk) -> None:
        studio.commit({"jug.obj": b"1"})
        desk.run()
        studio.commit({"jug.obj": b"2"})
        studio.write("jug.obj", b"not committed")
        before = {p: p.stat().st_mtime_ns for p in studio.folder.rglob("*") if p.is_file()}
        desk.run()
        after = {p: p.stat().st_mtime_ns for p in studio.folder.rglob("*") if p.is_file()}
        assert before == after


class TestAddresses:
    @pytest.fixture
    def remote_desk(self, studio: Repository, desk: Desk) -> Desk:
        desk.texts = (studio.folder.as_uri(),)
        studio.commit()
        return desk

    def test_a_mirror_is_watched_as_the_repository_is(
        self, studio: Repository, remote_desk: Desk
    ) -> None:
        remote_desk.run()
        made = [studio.commit(), studio.commit()]
        remote_desk.run()
        studio.git("commit", "--quiet", "--amend", "--allow-empty", "-m", "Rewritten")
        remote_desk.run()
        assert reviewed(remote_desk) == [*made, studio.head()]

    def test_names_are_only_data(
        self, studio: Repository, remote_desk: Desk, tmp_path: Path
    ) -> None:
        """Branches that other programs might take for options, commands or bytes of their own."""
        remote_desk.texts = (studio.folder.as_uri(), str(studio.folder))
        remote_desk.run()
        names = [b"caf\xe9", b"--upload-pack=touch-x", b"$(touch${IFS}pwned)", b"a;b&&c", b"-x"]
        for name in names:
            made = studio.commit(message=repr(name))
            studio.git("update-ref", b"refs/heads/" + name, made)
        studio.git("reset", "--quiet", "--hard", "HEAD~5")
        remote_desk.run()
        assert len(reviewed(remote_desk)) == 2 * len(names)
        remote_desk.run()
        assert len(reviewed(remote_desk)) == 2 * len(names)
        assert not list(tmp_path.rglob("pwned"))

    def test_one_that_is_away_is_said_once_and_asked_less_and_less_often(
        self, studio: Repository, remote_desk: Desk, tmp_path: Path
    ) -> None:
        looks = []
        hidden = tmp_path / "hidden"
        remote_desk.clock.plan = [
            (30, lambda: studio.folder.rename(hidden)),
            (2000, lambda: hidden.rename(studio.folder)),
            (2000, lambda: looks.append(studio.commit())),
        ]
        assert remote_desk.until(3000) == 0
        assert reviewed(remote_desk) == looks
        names = remote_desk.names()
        assert names == ["first-look", "unreachable", "reachable", "found", "reviewed", "stopped"]
        # Looks at 60, 120 (+60), 240 (+120), 480 (+240), 960 (+480), 1560 and 2160 (+600).
        assert "after 6 failed looks" in remote_desk.told[2].message

    def test_the_others_are_watched_all_the_same(
        self, studio: Repository, desk: Desk, tmp_path: Path
    ) -> None:
        studio.commit()
        desk.texts = ((tmp_path / "nowhere").as_uri(), str(studio.folder))
        assert desk.run() == 2
        made = studio.commit()
        assert desk.run() == 2
        assert reviewed(desk) == [made]


class TestFailures:
    def test_after_three_tries_the_next_one_comes(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        bad, good = studio.commit(), studio.commit()
        desk.worker.outcomes[bad] = [FAILED] * 9
        assert desk.run() == 2
        assert reviewed(desk) == [bad, bad, bad, good]
        (failed,) = (event for event in desk.told if event.name == "failed")
        assert failed.message == "not reviewed after 3 tries: it broke"
        assert desk.run() == 0
        assert len(reviewed(desk)) == 4

    def test_a_second_try_may_go_well(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        made = studio.commit()
        desk.worker.outcomes[made] = [FAILED, FAILED]
        assert desk.run() == 0
        assert reviewed(desk) == [made] * 3

    def test_what_is_away_costs_no_try(self, studio: Repository, desk: Desk) -> None:
        """In one round it is left for the next; a watcher that stays waits longer and longer."""
        desk.boards = {"": BOARD}
        studio.commit()
        desk.run()
        made = studio.commit()
        done = Outcome(result="done")
        desk.worker.outcomes[made] = [done, *[AWAY] * 7]
        assert desk.run() == 2
        assert desk.names()[-1] == "waiting"
        desk.clock.waits.clear()
        assert desk.until(desk.clock.now() + 900) == 0
        assert desk.worker.posted() == [made] * 8
        assert desk.names().count("waiting") == 2  # once for each watcher
        assert desk.names()[-3:] == ["resumed", "posted", "stopped"]

    def test_repositories_come_in_turn(
        self, studio: Repository, desk: Desk, tmp_path: Path
    ) -> None:
        other = new_repository(tmp_path / "other")
        desk.texts = (str(studio.folder), str(other.folder))
        desk.run()
        first = [studio.commit(message=f"Studio {n}") for n in range(3)]
        second = [other.commit(message=f"Other {n}") for n in range(2)]
        desk.run()
        assert reviewed(desk) == [first[0], second[0], first[1], second[1], first[2]]


class TestTheEnd:
    def test_the_gate_decides_the_status_of_one_round(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.run()
        made = studio.commit()
        desk.worker.outcomes[made] = [Outcome(result="done", status=1)]
        assert desk.run() == 1
        assert desk.run() == 0

    def test_told_to_stop_it_begins_nothing_more(self, studio: Repository, desk: Desk) -> None:
        studio.commit()
        desk.clock.plan = [(30, studio.commit)]
        assert desk.until(40) == 0
        assert reviewed(desk) == []
        assert desk.names()[-1] == "stopped"

    def test_looks_are_so_far_apart(self, studio: Repository, desk: Desk) -> None:
        made = []
        desk.every = 10
        desk.clock.plan = [(t, lambda: made.append(studio.commit())) for t in (5, 15, 16, 85)]
        desk.until(100)
        assert reviewed(desk) == made
        assert desk.names().count("found") == 3


def test_the_machine_s_clock_is_never_asked(
    studio: Repository, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So it may jump; the log alone shows it."""

    def jumped() -> float:
        raise AssertionError("somebody asked for the time of day")

    studio.commit()
    monkeypatch.setattr("time.time", jumped)
    assert desk.run() == 0
