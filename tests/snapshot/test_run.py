"""Whole digests of real repositories, without pictures unless they are the point."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
import pytest
from dated import Dated, box, leaf
from PIL import Image

from reviewbot.render.colours import BACKDROP
from reviewbot.report.json_report import from_json, to_json
from reviewbot.report.progress import Progress
from reviewbot.report.progress_markdown import progress_markdown
from reviewbot.report.progress_page import progress_page
from reviewbot.report.report import Report
from reviewbot.runs import Options, Reviewed
from reviewbot.snapshot.period import Asked
from reviewbot.snapshot.run import take_snapshot

NOW = datetime(2025, 3, 31, 12, tzinfo=UTC)
PLAIN = Options(pictures="none", workers=1)
HOSTILE = "<script>alert(1)</script> @everyone [click](http://evil.example) `x` | #1 \u202e"


def taken(repository: Dated, options: Options = PLAIN, **asked: str) -> Reviewed:
    return take_snapshot(repository.folder, Asked(**asked), options, now=NOW)


def progress_in(report: Report) -> Progress:
    assert report.progress is not None
    return report.progress


@pytest.fixture
def week(repository: Dated) -> Dated:
    """A box loses a face, is put right, and a leaf comes; before the week both stood."""
    props = {"props/box.obj": box(), "readme.txt": b"x", "old.obj": leaf()}
    repository.at("2025-03-10 12:00:00 +0100", props, message="Block out")
    repository.at("2025-03-25 12:00:00 +0100", {"props/box.obj": box(sides=5)}, message="Tidy up")
    repository.at(
        "2025-03-27 12:00:00 +0100",
        {"props/box.obj": box(scale=1.5)},
        message="Close it again",
        author="Mateo",
        email="MATEO@example.org",
    )
    repository.at("2025-03-30 12:00:00 +0200", {"new.obj": leaf(3)}, message="Add a leaf")
    return repository


def test_a_week(week: Dated) -> None:
    report = taken(week).report
    assert [(one.path, one.state) for one in report.assets] == [
        ("new.obj", "added"),
        ("props/box.obj", "changed"),
    ]
    progress = progress_in(report)
    assert (progress.commits, progress.merges) == (3, 0)
    assert [(one.name, one.commits) for one in progress.people] == [
        ("Ines Okafor", 2),
        ("Mateo", 1),
    ]
    assert report.title == "24 to 31 March 2025"
    _, way = progress.assets
    assert [(one.state, one.subject) for one in way.versions] == [
        ("start", "As the period began"),
        ("changed", "Tidy up"),
        ("changed", "Close it again"),
    ]
    assert [(one.measures or {})["faces"] for one in way.versions] == [6, 5, 6]
    (change,) = report.assets[1].changes
    assert (change.code, change.value) == ("scale", pytest.approx(1.5))


def test_findings_have_their_time(week: Dated) -> None:
    found = {(one.path, one.code): one for one in progress_in(taken(week).report).findings}
    hole = found["props/box.obj", "open-border"]
    assert (hole.fate, hole.days, hole.commits) == ("passing", 2.0, 1)
    bare = found["new.obj", "uv-missing"]
    assert (bare.fate, bare.ended) == ("opened", None)
    assert bare.days == pytest.approx(
        (NOW - datetime(2025, 3, 30, 10, tzinfo=UTC)).total_seconds() / 86400
    )


def test_what_stood_before_is_told_as_older(repository: Dated) -> None:
    repository.at("2025-03-10 12:00:00 +0100", {"box.obj": box(sides=5), "leaf.obj": leaf()})
    repository.at("2025-03-28 12:00:00 +0100", {"box.obj": box(scale=2, sides=5)})
    repository.at("2025-03-29 12:00:00 +0100", {"box.obj": box(scale=2)})
    repository.at("2025-03-29 13:00:00 +0100", {"leaf.obj": leaf(2)})
    found = {(one.path, one.code): one for one in progress_in(taken(repository).report).findings}
    assert found["box.obj", "open-border"].fate == "mended"
    older = found["leaf.obj", "uv-missing"]
    assert (older.fate, older.opened, older.days, older.commits) == ("standing", None, 7.0, 3)


def test_the_gate_decides_the_status(repository: Dated) -> None:
    repository.at("2025-03-28 12:00:00 +0100", {"box.obj": box()})
    assert taken(repository).status == 0
    repository.at("2025-03-29 12:00:00 +0100", {"leaf.obj": b"v nonsense\n"})
    assert taken(repository).status == 1


def test_a_quiet_week_is_one_line(repository: Dated) -> None:
    repository.at("2025-03-10 12:00:00 +0100", {"box.obj": box()})
    quiet = taken(repository)
    assert (quiet.status, quiet.pictures) == (0, {})
    markdown = progress_markdown(quiet.report, picture_url=str)
    assert markdown == "No mesh file changed, 24 to 31 March 2025.\n"
    repository.at("2025-03-28 12:00:00 +0100", {"readme.txt": b"x"})
    markdown = progress_markdown(taken(repository).report, picture_url=str)
    assert markdown == "No mesh file changed, 24 to 31 March 2025; 1 commit landed elsewhere.\n"
    assert "No mesh file changed" in progress_page(quiet.report, {})


def test_every_way_of_coming_and_going(repository: Dated) -> None:
    repository.at(
        "2025-03-10 12:00:00 +0100",
        {"gone.obj": box("gone"), "back.obj": box("back"), "put.obj": box("put"), "x.obj": leaf()},
    )
    repository.at(
        "2025-03-25 12:00:00 +0100",
        {"gone.obj": None, "back.obj": None, "put.obj": box("put", sides=5), "brief.obj": leaf(9)},
    )
    repository.git("mv", "x.obj", "y.obj")
    repository.at("2025-03-26 12:00:00 +0100", {"back.obj": box("back", sides=5)})
    repository.at("2025-03-27 12:00:00 +0100", {"put.obj": box("put"), "brief.obj": None})
    report = taken(repository).report
    told = {one.path: (one.state, one.summary) for one in report.assets}
    assert told["gone.obj"] == ("removed", "The file was removed.")
    assert told["back.obj"][0] == "changed"
    assert told["put.obj"] == ("same", "Changed, and put back as it was.")
    assert told["brief.obj"] == ("removed", "Added, and removed again.")
    assert told["y.obj"] == ("same", "Lies elsewhere now, and is the same.")
    fates = {(one.path, one.code): one.fate for one in progress_in(report).findings}
    assert fates["back.obj", "open-border"] == "opened"
    assert fates["put.obj", "open-border"] == "passing"
    assert fates["brief.obj", "uv-missing"] == "gone"
    ways = {one.path: one.versions for one in progress_in(report).assets}
    assert [one.stops for one in ways["gone.obj"]] == [None, None]  # nobody looked for any
    assert [one.looks for one in ways["put.obj"]] == [0, 1, 0]
    assert from_json(to_json(report)) == report


def test_two_assets_may_have_had_one_path(repository: Dated) -> None:
    """The old jar is thrown away, and another file takes its place."""
    jars = {"jar.obj": box("old"), "better.obj": box("better", scale=2)}
    repository.at("2025-03-10 12:00:00 +0100", jars)
    repository.at("2025-03-25 12:00:00 +0100", {"jar.obj": None})
    repository.git("mv", "better.obj", "jar.obj")
    repository.at("2025-03-26 12:00:00 +0100")
    report = taken(repository).report
    told = [(one.path, one.before_path, one.state) for one in report.assets]
    assert sorted(told) == [
        ("jar.obj", "better.obj", "same"),
        ("jar.obj", "jar.obj", "removed"),
    ]
    table = progress_markdown(report, picture_url=str).split("### Assets")[1].split("###")[0]
    assert table.count("`jar.obj`") == 2
    assert progress_page(report, {}).count('<article class="asset"') == 2


def test_work_on_a_branch_lands_with_its_merge(repository: Dated) -> None:
    start = repository.at("2025-03-01 12:00:00 +0100", {"box.obj": box()})
    repository.branch("side")
    repository.at("2025-03-05 12:00:00 +0100", {"box.obj": box(sides=5)}, message="Long ago")
    repository.switch("main")
    repository.at("2025-03-06 12:00:00 +0100", {"readme.txt": b"x"})
    repository.merge("2025-03-28 12:00:00 +0100", "side")
    report = taken(repository).report
    progress = progress_in(report)
    assert (progress.commits, progress.merges) == (1, 1)
    assert [one.subject for one in progress.assets[0].versions][1:] == ["Long ago"]
    assert report.base != start


def test_an_unreadable_version_is_a_version(repository: Dated) -> None:
    repository.at("2025-03-10 12:00:00 +0100", {"box.obj": box(sides=5)})
    repository.at("2025-03-25 12:00:00 +0100", {"box.obj": b"v 1 2\nf 1 2 3\n"})
    repository.at("2025-03-26 12:00:00 +0100", {"box.obj": box(sides=5, scale=2)})
    progress = progress_in(taken(repository).report)
    assert [one.state for one in progress.assets[0].versions] == ["start", "unreadable", "changed"]
    fates = {one.code: one.fate for one in progress.findings}
    assert fates["unreadable"] == "passing"


def test_messages_and_names_are_strangers_data(repository: Dated) -> None:
    repository.at("2025-03-10 12:00:00 +0100", {"box.obj": box()})
    name = "props/<img src=x onerror=alert(1)> `|` @x.obj"
    repository.at(
        "2025-03-28 12:00:00 +0100",
        {name: box("<b>lid</b>", sides=5), "box.obj": box(scale=3)},
        message=HOSTILE,
        author=HOSTILE.replace("<", "(").replace(">", ")"),
    )
    report = taken(repository).report
    markdown = progress_markdown(report, picture_url=str)
    page = progress_page(report, {})
    for output in (markdown, page):
        assert "<script>alert" not in output
        assert "<img src=x" not in output.replace("`props/<img src=x", "")
        assert "\u202e" not in output
        assert '<a href="http://evil' not in output


def test_pictures_of_a_week(week: Dated) -> None:
    reviewed = taken(week, Options(pictures="all", workers=1))
    entries = {one.path: one for one in reviewed.report.assets}
    kinds = [picture.kind for picture in entries["props/box.obj"].pictures]
    assert kinds == [
        *("strip", "clay-before", "clay-after", "clay-difference"),
        *("film-strip", "film", "progress"),
    ]
    assert {one.kind for one in reviewed.report.pictures} == {"contact-sheet", "progress"}
    for name, data in reviewed.pictures.items():
        picture = Image.open(io.BytesIO(data))
        picture.load()
        if name.endswith("film.webp"):
            assert picture.n_frames == 3
            assert len(data) < 2_000_000
            assert picture.info["duration"] * 3 > 1000  # under three changes a second: WCAG 2.3.1
    page = progress_page(reviewed.report, reviewed.pictures)
    assert page.count("data:image/") >= len(reviewed.pictures)


def test_versions_are_in_order_of_time(week: Dated) -> None:
    for way in progress_in(taken(week).report).assets:
        whens = [datetime.fromisoformat(one.when) for one in way.versions]
        assert all(one <= other for one, other in pairwise(whens))


def test_versions_share_one_scale_unless_one_is_far_off(repository: Dated) -> None:
    """The film's frames, read back: a box half as large is half as wide, one 100 times is not."""
    repository.at("2025-03-10 12:00:00 +0100", {"box.obj": box()})
    for day, scale in ((25, 0.5), (26, 100.0), (27, 1.0)):
        repository.at(f"2025-03-{day} 12:00:00 +0100", {"box.obj": box(scale=scale)})
    reviewed = taken(repository, Options(pictures="all", workers=1))
    (name,) = (name for name in reviewed.pictures if name.endswith("film.webp"))
    film = Image.open(io.BytesIO(reviewed.pictures[name]))
    widths = []
    for at in range(film.n_frames):
        film.seek(at)
        shown = np.asarray(film.convert("RGB")).astype(int)[30:480]
        widths.append(int((np.abs(shown - BACKDROP).max(axis=2) > 40).any(axis=0).sum()))
    first, half, huge, last = widths
    assert first == pytest.approx(last, abs=4)
    assert half == pytest.approx(first / 2, abs=6)
    assert huge == pytest.approx(first, rel=0.25)
