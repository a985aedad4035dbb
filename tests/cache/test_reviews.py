"""A kept review is the fresh one, byte for byte, and is found only where all it rests on is so."""

import datetime
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as limits
from hypothesis import strategies as st
from kept import LID, cache_in, job_on, picture, pictured, write_prop

from reviewbot.cache import keys
from reviewbot.cache.disk import Cache
from reviewbot.cache.reviews import _packed, _unpacked, find_review, keep_review
from reviewbot.checks.acceptances import Acceptance
from reviewbot.history.sources import opened
from reviewbot.jobs import AssetJob, AssetReview
from reviewbot.making import make_review
from reviewbot.report.report import AssetEntry, FindingEntry
from reviewbot.settings import Settings


def keep(cache: Cache, job: AssetJob) -> AssetReview:
    made = make_review(job)
    keep_review(cache, job, made.review, before=made.before, after=made.after)
    return made.review


def is_found(cache: Cache, job: AssetJob) -> bool:
    return find_review(cache, job, opened) is not None


@pytest.fixture
def job(tmp_path: Path) -> AssetJob:
    before = write_prop(tmp_path / "before")
    after = write_prop(tmp_path / "after")
    after.write_text(LID.replace("v 1 1 0", "v 1 1 0.2"))
    return job_on(before, after)


def folder_of(job: AssetJob) -> Path:
    return job.after.file.parent


def test_a_kept_review_is_the_fresh_one_byte_for_byte(tmp_path, job):
    cache, said = cache_in(tmp_path / "kept")
    fresh = keep(cache, pictured(job))
    found = find_review(cache, pictured(job), opened)
    assert found.entry.model_dump_json() == fresh.entry.model_dump_json()
    assert repr(found.entry) == repr(fresh.entry)  # infinities and all
    assert found.pictures == fresh.pictures
    assert list(found.pictures) == list(fresh.pictures)
    assert np.array_equal(found.cover, fresh.cover)
    assert said == []


def test_figures_that_are_no_numbers_stay_what_they_are(tmp_path, job):
    cache, _ = cache_in(tmp_path / "kept")
    made = make_review(job)
    entry = made.review.entry.model_copy(update={"after": {"a": math.inf, "b": 2, "c": 2.0}})
    review = replace(made.review, entry=entry)
    keep_review(cache, job, review, before=made.before, after=made.after)
    measures = find_review(cache, job, opened).entry.after
    assert repr(measures) == "{'a': inf, 'b': 2, 'c': 2.0}"


def test_the_same_files_elsewhere_are_the_same(tmp_path, job):
    """Neither the folder nor the time of a file matters, so that every clone shares the cache."""
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, job)
    again = write_prop(tmp_path / "x" / "before"), write_prop(tmp_path / "x" / "after")
    again[1].write_bytes(job.after.file.read_bytes())
    assert is_found(cache, job_on(*again))


CHANGES: dict[str, Callable[[Path], object]] = {
    "the mesh": lambda folder: (folder / "lid_low.obj").write_text(LID.replace("0 1 0", "0 2 0")),
    "a comment in it": lambda folder: (folder / "lid_low.obj").write_text("#\n" + LID),
    "its material file": lambda folder: (folder / "lid.mtl").write_text("newmtl brass\n"),
    "no material file": lambda folder: (folder / "lid.mtl").unlink(),
    "its picture": lambda folder: (folder / "brass.png").write_bytes(picture(10)),
    "no picture": lambda folder: (folder / "brass.png").unlink(),
    "its partner": lambda folder: (folder / "lid_high.obj").write_text(LID),
    "no partner": lambda folder: (folder / "lid_high.obj").unlink(),
}


@pytest.mark.parametrize("side", ["before", "after"])
@pytest.mark.parametrize("change", CHANGES)
def test_any_file_that_was_read_matters(tmp_path, job, change, side):
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, job)
    assert is_found(cache, job)
    folder = tmp_path / side
    old = {file: file.read_bytes() for file in folder.iterdir()}
    CHANGES[change](folder)
    assert not is_found(cache, job)
    for file, data in old.items():
        file.write_bytes(data)
    assert is_found(cache, job)


def test_a_file_that_was_missing_matters_when_it_comes(tmp_path, job):
    cache, _ = cache_in(tmp_path / "kept")
    material = folder_of(job) / "lid.mtl"
    text = material.read_text()
    material.unlink()
    keep(cache, job)
    material.write_text(text)
    assert not is_found(cache, job)
    keep(cache, job)  # asks for a picture as well, which it did not before
    assert is_found(cache, job)
    material.unlink()
    assert is_found(cache, job)


def test_files_nobody_asked_for_do_not_matter(tmp_path, job):
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, job)
    (folder_of(job) / "notes.txt").write_text("for the weekend")
    (folder_of(job) / "other.obj").write_text(LID)
    assert is_found(cache, job)


def settings_with(section: str, **values: object) -> Settings:
    return Settings.model_validate({section: values})


OTHER_JOBS: dict[str, Callable[[AssetJob], AssetJob]] = {
    "a limit": lambda job: replace(job, settings=settings_with("limits", stretch=1.01)),
    "a name": lambda job: replace(job, settings=settings_with("names", high_suffix="_hi")),
    "what a file may take": lambda job: replace(job, settings=settings_with("files", seconds=9)),
    "the path": lambda job: replace(job, path="props/other_low.obj"),
    "the path before": lambda job: replace(job, before=replace(job.before, path="old.obj")),
    "the sides": lambda job: replace(job, before=job.after, after=job.before),
    "no version before": lambda job: replace(job, before=None),
    "the wish": lambda job: replace(job, pictures="figures"),
    "the detail": lambda job: replace(job, detail="brief"),
    "an acceptance": lambda job: replace(
        job, acceptances=(Acceptance(code="*", why="So planned.", who="Ines"),)
    ),
}


@pytest.mark.parametrize("other", OTHER_JOBS)
def test_another_job_is_not_found(tmp_path, job, other):
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, job)
    assert not is_found(cache, OTHER_JOBS[other](job))


def test_what_an_asset_does_not_depend_on_does_not_matter(tmp_path, job):
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, job)
    assert is_found(cache, replace(job, settings=settings_with("gate", fail_on="never")))
    assert is_found(cache, replace(job, settings=settings_with("files", exclude=("old/*",))))
    assert is_found(cache, replace(job, renderer="gl"))  # nothing is drawn
    assert is_found(cache, replace(job, today=datetime.date(2031, 1, 1)))


def test_an_acceptance_matters_until_its_last_day(tmp_path, job):
    accepted = Acceptance(code="*", why="So planned.", who="Ines", until=datetime.date(2024, 6, 1))
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, replace(job, acceptances=(accepted,)))
    assert is_found(cache, replace(job, acceptances=(accepted,), today=datetime.date(2024, 6, 1)))
    assert not is_found(
        cache, replace(job, acceptances=(accepted,), today=datetime.date(2024, 6, 2))
    )


def test_the_renderer_that_draws_matters(tmp_path, job, monkeypatch):
    cache, _ = cache_in(tmp_path / "kept")
    figures = replace(job, pictures="figures", renderer="ray")
    keep(cache, figures)
    monkeypatch.setattr(keys, "choose_renderer", lambda _wanted: "ray")
    assert is_found(cache, replace(figures, renderer="auto"))
    monkeypatch.setattr(keys, "choose_renderer", lambda _wanted: "gl")
    assert not is_found(cache, replace(figures, renderer="auto"))


@pytest.mark.parametrize("library", ["numpy", "embreex", "scipy"])
def test_another_version_of_a_library_matters(tmp_path, job, monkeypatch, library):
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, job)
    known = keys._version
    monkeypatch.setattr(keys, "_version", lambda name: "99" if name == library else known(name))
    keys.program.cache_clear()
    assert not is_found(cache, job)
    monkeypatch.undo()
    keys.program.cache_clear()
    assert is_found(cache, job)


def test_a_changed_source_of_this_program_matters(tmp_path, monkeypatch):
    (tmp_path / "rules").mkdir()
    source = tmp_path / "rules" / "rule.py"
    source.write_text("LIMIT = 1\n")
    monkeypatch.setattr(keys.reviewbot, "__file__", str(tmp_path / "__init__.py"))
    digests = []
    for text in ("LIMIT = 1\n", "LIMIT = 2\n", "LIMIT = 1\n"):
        source.write_text(text)
        keys.program.cache_clear()
        digests.append(keys.program())
    monkeypatch.undo()
    keys.program.cache_clear()
    assert digests[0] == digests[2] != digests[1]


def test_what_another_try_may_change_is_not_kept(tmp_path, job):
    cache, _ = cache_in(tmp_path / "kept")
    made = make_review(job)
    passing = replace(made.review, is_lasting=False)
    keep_review(cache, job, passing, before=made.before, after=made.after)
    assert not is_found(cache, job)


def test_a_file_over_its_time_is_not_kept(tmp_path, job):
    hurried = replace(job, settings=settings_with("files", seconds=1e-9))
    cache, _ = cache_in(tmp_path / "kept")
    assert keep(cache, hurried).entry.state == "unreadable"
    assert not is_found(cache, hurried)


def test_an_unreadable_file_is_kept_as_such(tmp_path, job):
    job.after.file.write_text("v 1 2\n")
    cache, _ = cache_in(tmp_path / "kept")
    assert keep(cache, job).entry.state == "unreadable"
    assert find_review(cache, job, opened).entry.state == "unreadable"


def test_a_file_that_is_gone_is_neither_found_nor_kept(tmp_path, job):
    cache, _ = cache_in(tmp_path / "kept")
    keep(cache, job)
    job.after.file.unlink()
    assert not is_found(cache, job)
    keep(cache, job)
    assert not is_found(cache, job)


def poisoned(tmp_path: Path, job: AssetJob, change: Callable[[dict], object]) -> list[str]:
    """What is said of an entry that someone made up, with a right digest."""
    cache, said = cache_in(tmp_path / "kept")
    made = make_review(pictured(job))
    put = cache.put

    def bad(key: str, table: dict, blobs: Sequence[bytes] = ()) -> None:
        if "entry" in table:
            table = json.loads(json.dumps(table))
            change(table)
        put(key, table, blobs)

    cache.put = bad
    keep_review(cache, pictured(job), made.review, before=made.before, after=made.after)
    assert find_review(cache, pictured(job), opened) is None
    return said


POISONS: dict[str, Callable[[dict], object]] = {
    "upwards": lambda table: table["pictures"].__setitem__(0, "pictures/../../evil.png"),
    "absolute": lambda table: table["pictures"].__setitem__(0, "/etc/evil"),
    "the report": lambda table: table["pictures"].__setitem__(0, "report.html"),
    "too few": lambda table: table["pictures"].pop(),
    "another form": lambda table: table["entry"].__setitem__("state", "excellent"),
    "more": lambda table: table["entry"].__setitem__("script", "x"),
    "no entry": lambda table: table.pop("entry"),
    "a large cover": lambda table: table.__setitem__("cover", [1 << 40, 1 << 40, 3]),
    "no cover": lambda table: table.__setitem__("cover", "x"),
}


class PoisonableCache(Cache):
    """The same without slots, so that a test may stand in for `put`."""


@pytest.mark.parametrize("poison", POISONS)
def test_a_made_up_entry_is_refused(tmp_path, job, poison, monkeypatch):
    monkeypatch.setattr("kept.Cache", PoisonableCache)
    said = poisoned(tmp_path, job, POISONS[poison])
    assert len(said) == 1
    assert "not understood" in said[0]


@limits(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(path=st.text(), message=st.text(), value=st.none() | st.floats() | st.integers())
def test_any_entry_survives_the_form(path, message, value):
    finding = FindingEntry(
        code="ngon", severity="look", part="", standing="new", value=value, message=message
    )
    entry = AssetEntry(
        path=path,
        before_path=None,
        state="added",
        verdict="look",
        summary=message,
        findings=(finding,),
        after={"a": value, "b": message},
    )
    table, blobs = _packed(AssetReview(entry=entry, pictures={}))
    assert repr(_unpacked(json.loads(json.dumps(table)), blobs).entry) == repr(entry)
