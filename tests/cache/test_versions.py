"""The version before is measured once, in whichever review it is met, and never wrongly."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from kept import LID, cache_in, job_on, picture, pictured, write_prop

from reviewbot import measuring
from reviewbot.cache.disk import Place
from reviewbot.cache.records import Packer
from reviewbot.jobs import AssetJob
from reviewbot.making import make_review
from reviewbot.settings import Settings


@pytest.fixture
def measured(monkeypatch) -> list[int]:
    """Grows by one for each version that is measured."""
    seen: list[int] = []
    examine = measuring.examine

    def counted(*args, **more):
        seen.append(1)
        return examine(*args, **more)

    monkeypatch.setattr(measuring, "examine", counted)
    return seen


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    made = [write_prop(tmp_path / str(number)) for number in range(3)]
    for number, file in enumerate(made):
        file.write_text(LID.replace("v 1 1 0", f"v 1 1 0.{number}"))
    return made


def test_a_version_met_again_is_not_measured_again(tmp_path, files, measured):
    place = Place(folder=tmp_path / "kept")
    make_review(job_on(files[0], files[1]), place=place)
    assert len(measured) == 2
    again = make_review(job_on(files[1], files[2]), place=place)
    assert len(measured) == 3
    assert again.review.entry == make_review(job_on(files[1], files[2])).review.entry


def test_a_kept_version_gives_the_same_review_byte_for_byte(tmp_path, files, measured):
    place = Place(folder=tmp_path / "kept")
    job = pictured(job_on(files[0], files[1]))
    first = make_review(job, place=place)
    second = make_review(job, place=place)
    assert len(measured) == 2
    assert second.review.entry.model_dump_json() == first.review.entry.model_dump_json()
    assert second.review.pictures == first.review.pictures
    assert (second.before, second.after) == (first.before, first.after)


CHANGES: dict[str, Callable[[Path], object]] = {
    "the mesh": lambda folder: (folder / "lid_low.obj").write_text("#\n" + LID),
    "its material file": lambda folder: (folder / "lid.mtl").write_text("newmtl brass\n"),
    "its picture": lambda folder: (folder / "brass.png").write_bytes(picture(10)),
    "its partner": lambda folder: (folder / "lid_high.obj").write_text(LID),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_version_with_anything_changed_is_measured(tmp_path, files, measured, change):
    place = Place(folder=tmp_path / "kept")
    job = job_on(None, files[0])
    make_review(job, place=place)
    CHANGES[change](files[0].parent)
    make_review(job, place=place)
    assert len(measured) == 2


OTHERS: dict[str, Callable[[AssetJob], AssetJob]] = {
    "settings": lambda job: replace(
        job, settings=Settings.model_validate({"texture": {"size": 64}})
    ),
    "the wish": lambda job: replace(job, pictures="all"),
    "the path": lambda job: replace(job, after=replace(job.after, path="props/other_low.obj")),
}


@pytest.mark.parametrize("other", OTHERS)
def test_another_job_measures_for_itself(tmp_path, files, measured, other):
    place = Place(folder=tmp_path / "kept")
    make_review(job_on(None, files[0]), place=place)
    make_review(OTHERS[other](job_on(None, files[0])), place=place)
    assert len(measured) == 2


def test_damage_is_said_and_measured_anew(tmp_path, files, measured):
    place = Place(folder=tmp_path / "kept")
    job = job_on(None, files[0])
    fresh = make_review(job, place=place)
    for file in place.folder.glob("??/*.kept"):
        file.write_bytes(file.read_bytes()[:-1])
    again = make_review(job, place=place)
    assert again.review == fresh.review
    assert ["thrown away" in line for line in again.said] == [True]
    assert len(measured) == 2


def test_a_made_up_version_is_refused(tmp_path, files, measured, monkeypatch):
    place = Place(folder=tmp_path / "kept")
    job = job_on(None, files[0])
    monkeypatch.setattr(Packer, "pack", lambda _self, _value, _form: {"record": ["os.system"]})
    make_review(job, place=place)
    monkeypatch.undo()
    assert "not understood" in make_review(job, place=place).said[0]


def test_a_broken_file_is_read_each_time(tmp_path, files, measured):
    place = Place(folder=tmp_path / "kept")
    files[0].write_text("v 1 2\n")
    for _ in range(2):
        assert make_review(job_on(None, files[0]), place=place).review.entry.state == "unreadable"
    assert measured == []


def test_what_other_processes_said_is_not_repeated(tmp_path):
    cache, said = cache_in(tmp_path)
    cache.repeat(("one", "two"))
    cache.repeat(("two",))
    assert said == ["one", "two"]
