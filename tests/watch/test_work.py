"""Orders, carried out on real repositories with real reports."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue

import httpx
import pytest
from code_host import API, StandIn
from loopback import served
from report.sample import lantern_report, picture_bytes, quiet_report
from repositories import Repository
from watch.lives import Desk, HereWorker

from reviewbot.errors import UsageError
from reviewbot.publish.folder import write_report
from reviewbot.runs import Options
from reviewbot.watch import reports
from reviewbot.watch.news import Choice
from reviewbot.watch.posting import Board
from reviewbot.watch.reports import drop_unfinished, is_written, read_kept, write_once
from reviewbot.watch.work import Outcome, PostOrder, ReviewOrder, carry_out_order
from reviewbot.watch.worker import ProcessWorker, end_children

PLATE = b"o plate\nv 0 0 0\nv 1 0 0\nv 1 0 1\nv 0 0 1\nf 4 3 2 1\n"
TWICE = PLATE + b"f 4 3 2 1\n"


def order_for(repository: Repository, folder: Path, commit: str = "") -> ReviewOrder:
    return ReviewOrder(
        repository=repository.folder,
        commit=commit or repository.head(),
        base=None,
        folder=folder,
        options=Options(pictures="none", workers=1),
    )


class TestReports:
    def test_one_is_there_whole_or_not_at_all(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def full(*_: object) -> None:
            raise OSError(28, "No space left on device")

        folder = tmp_path / "props" / "abc"
        report = lantern_report()
        monkeypatch.setattr(reports, "_settle", full)
        with pytest.raises(UsageError, match="No space left"):
            write_once(report, picture_bytes(report), folder)
        assert list((tmp_path / "props").iterdir()) == []
        monkeypatch.undo()
        write_once(report, picture_bytes(report), folder)
        assert [path.name for path in (tmp_path / "props").iterdir()] == ["abc"]
        assert read_kept(folder).report == report

    def test_the_first_one_stays(self, tmp_path: Path) -> None:
        folder = tmp_path / "props" / "abc"
        write_once(quiet_report(), {}, folder)
        report = lantern_report()
        write_once(report, picture_bytes(report), folder)
        assert read_kept(folder).report == quiet_report()

    def test_what_a_killed_watcher_left_is_taken_away(self, tmp_path: Path) -> None:
        for folder in ("props/.abc.17.part", "props/request-7/.abc.17.part", "props/abc"):
            write_report(quiet_report(), {}, tmp_path / folder)
        drop_unfinished(tmp_path, "props")
        left = {file.parent.name for file in tmp_path.rglob("report.json")}
        assert left == {"abc"}

    def test_a_damaged_one_is_told(self, tmp_path: Path) -> None:
        write_once(quiet_report(), {}, tmp_path / "abc")
        (tmp_path / "abc" / "report.json").write_text("{")
        with pytest.raises(UsageError, match="cannot be read again"):
            read_kept(tmp_path / "abc")


class TestReviews:
    def test_a_commit_against_its_parent(self, studio: Repository, tmp_path: Path) -> None:
        studio.commit({"plate.obj": PLATE})
        studio.commit({"plate.obj": TWICE})
        done = carry_out_order(order_for(studio, tmp_path / "out"))
        assert (done.result, done.status) == ("done", 1)
        told = json.loads((tmp_path / "out" / "report.json").read_text("utf-8"))
        assert told["head"] == studio.head()
        assert "duplicate-face" in {finding["code"] for finding in told["assets"][0]["findings"]}

    def test_one_that_is_written_is_not_made_again(
        self, studio: Repository, tmp_path: Path
    ) -> None:
        studio.commit({"plate.obj": PLATE})
        write_once(quiet_report(), {}, tmp_path / "out")
        assert carry_out_order(order_for(studio, tmp_path / "out")).told == quiet_report().summary

    def test_a_commit_that_is_gone_and_settings_that_are_wrong(
        self, studio: Repository, tmp_path: Path
    ) -> None:
        studio.commit({"reviewbot.toml": b"[gate]\nfail_on = 'maybe'\n"})
        studio.commit({"plate.obj": PLATE})
        for commit, reason in [("f" * 40, "names no commit"), (studio.head(), "fail_on")]:
            failed = carry_out_order(order_for(studio, tmp_path / "out", commit))
            assert failed.result == "failed"
            assert reason in failed.told
        assert not is_written(tmp_path / "out")

    def test_a_full_disk_costs_no_try(self, studio: Repository, tmp_path: Path) -> None:
        studio.commit({"plate.obj": PLATE})
        (tmp_path / "file").touch()
        assert carry_out_order(order_for(studio, tmp_path / "file" / "out")).result == "away"

    def test_a_fault_of_our_own_is_told(
        self, studio: Repository, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def broken(*_: object) -> None:
            raise ZeroDivisionError("division by zero")

        monkeypatch.setattr("reviewbot.watch.work.plan_repository", broken)
        studio.commit()
        failed = carry_out_order(order_for(studio, tmp_path / "out"))
        assert failed == Outcome(result="failed", told="ZeroDivisionError: division by zero")


class TestWhatJudges:
    """A request is judged by the default branch, whatever its own commits say."""

    def test_a_request_cannot_change_it(self, studio: Repository, desk: Desk) -> None:
        studio.commit({"reviewbot.toml": b"[gate]\nfail_on = 'stop'\n"})
        desk.choice = Choice(branches=("main",), with_requests=True)
        desk.worker = HereWorker()
        desk.run()
        studio.git("checkout", "--quiet", "--detach")
        studio.commit({"reviewbot.toml": b"[gate]\nfail_on = 'never'\n"}, "Be kind")
        made = studio.commit({"plate.obj": TWICE}, "Twice")
        studio.git("update-ref", "refs/pull/7/head", made)
        studio.git("checkout", "--quiet", "main")
        assert desk.run() == 1
        (file,) = desk.folder.glob(f"out/*/request-7/{made}/report.json")
        told = json.loads(file.read_text("utf-8"))
        assert (told["fail_on"], told["base"]) == ("stop", studio.head())


class TestPosts:
    """From the report's folder, to a stand-in host on a socket."""

    COMMIT = "a" * 40

    @pytest.fixture
    def host(self) -> StandIn:
        return StandIn()

    @pytest.fixture
    def order(self, host: StandIn, tmp_path: Path) -> Iterator[PostOrder]:
        report = lantern_report()
        write_once(report, picture_bytes(report), tmp_path / "abc")
        with served(host.answer, below="/api/v3", seen_as=API) as address:
            board = Board(host="github", server=address, repository="studio/props")
            yield PostOrder(
                folder=tmp_path / "abc",
                board=board,
                ref="refs/pull/2/head",
                commit=self.COMMIT,
                token="t0ken",
            )

    def test_a_request_gets_pictures_comment_and_verdict_once(
        self, host: StandIn, order: PostOrder
    ) -> None:
        for _ in range(2):
            done = carry_out_order(order)
            assert done == Outcome(result="done", told="on request 2, studio/props")
        (comment,) = host.comments.values()
        (pictures,) = host.refs.values()
        assert f"/blob/{pictures}/pictures/" in comment["body"]
        assert len(host.trees[host.commits[pictures]["tree"]]) > 1
        assert [(s["sha"], s["state"]) for s in host.statuses] == [(self.COMMIT, "failure")]

    def test_a_branch_gets_the_verdict_alone(self, host: StandIn, order: PostOrder) -> None:
        for _ in range(2):
            assert carry_out_order(replace(order, ref="refs/heads/main")).result == "done"
        assert (host.comments, host.refs, len(host.statuses)) == ({}, {}, 1)

    @pytest.mark.parametrize(
        ("status", "result"), [(404, "failed"), (422, "failed"), (401, "away"), (503, "away")]
    )
    def test_what_may_go_well_later_is_told_apart(
        self,
        host: StandIn,
        order: PostOrder,
        monkeypatch: pytest.MonkeyPatch,
        status: int,
        result: str,
    ) -> None:
        monkeypatch.setattr("reviewbot.publish.clock.time.sleep", lambda _: None)
        host.failures.extend(httpx.Response(status, json={"message": "no"}) for _ in range(20))
        done = carry_out_order(replace(order, ref="refs/heads/main"))
        assert done.result == result
        assert "t0ken" not in done.told


@pytest.mark.skipif(shutil.which("git-lfs") is None, reason="git-lfs is not installed")
def test_large_files_of_an_address_come_from_the_trusted_server(
    studio: Repository, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Mirrors hold pointers only."""
    studio.git("lfs", "install", "--local")
    studio.git("lfs", "track", "*.obj")
    desk.texts, desk.choice = (studio.folder.as_uri(),), Choice(since="all")
    desk.worker = HereWorker()
    states = []
    for content, server in [(PLATE, ""), (TWICE, studio.folder.as_uri())]:
        monkeypatch.setenv("REVIEWBOT_LFS_URL", server)
        made = studio.commit({"plate.obj": content})
        desk.run()
        (file,) = desk.folder.glob(f"out/*/{made}/report.json")
        states += [asset["state"] for asset in json.loads(file.read_text("utf-8"))["assets"]]
    assert states == ["unreadable", "changed"]


class TestTheWorker:
    def outcome(
        self, worker: ProcessWorker, order: ReviewOrder, meanwhile: Callable[[], None] | None = None
    ) -> Outcome:
        box: SimpleQueue[Outcome] = SimpleQueue()
        worker.start(order, box.put)
        if meanwhile is not None:
            meanwhile()
        return box.get(timeout=60)

    def test_a_process_that_dies_costs_one_order(self, studio: Repository, tmp_path: Path) -> None:
        studio.commit({"plate.obj": PLATE})
        order = order_for(studio, tmp_path / "out")
        worker = ProcessWorker()
        try:
            killed = self.outcome(worker, order, end_children)
            assert killed.result == "failed"
            assert "ended before it was done" in killed.told
            assert self.outcome(worker, replace(order)).result == "done"
        finally:
            worker.stop()

    def test_an_order_has_a_limit(self, studio: Repository, tmp_path: Path) -> None:
        studio.commit({"plate.obj": PLATE})
        worker = ProcessWorker(longest=0.05)
        try:
            assert self.outcome(worker, order_for(studio, tmp_path / "out")).result == "failed"
        finally:
            worker.stop()
