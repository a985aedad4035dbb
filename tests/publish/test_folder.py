from __future__ import annotations

import os

import pytest
from report.sample import HOSTILE_NAMES, hostile_report, lantern_report, picture_bytes

from reviewbot.errors import UsageError
from reviewbot.publish.folder import write_report
from reviewbot.report.json_report import from_json

LANTERN = lantern_report()
FORMS = ["report.html", "report.json", "report.md", "report.sarif", "report.xml"]


def test_everything_is_written(tmp_path):
    folder = tmp_path / "new" / "folder"
    pictures = picture_bytes(LANTERN)
    write_report(LANTERN, pictures, folder)
    written = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}
    assert written == {*FORMS, *pictures}
    assert from_json((folder / "report.json").read_bytes()) == LANTERN
    assert (folder / "report.md").read_text(encoding="utf-8").startswith("## ■ stop")
    for name, data in pictures.items():
        assert (folder / name).read_bytes() == data


def test_a_second_report_takes_the_first_one_s_place(tmp_path):
    for _ in range(2):
        write_report(LANTERN, {}, tmp_path)
    assert sorted(os.listdir(tmp_path)) == FORMS


def test_hostile_names_make_no_files(tmp_path):
    report = hostile_report(*HOSTILE_NAMES)
    write_report(report, picture_bytes(report), tmp_path / "out")
    assert os.listdir(tmp_path) == ["out"]


@pytest.mark.parametrize(
    "name",
    [
        "../escape.png",
        "/absolute.png",
        "pictures/../../escape.png",
        "report.html",
        "pictures",
        "pictures\\x.png",
        "pictures/x\0.png",
        "",
        "C:/x.png",
    ],
)
def test_pictures_stay_in_their_folder(tmp_path, name):
    with pytest.raises(UsageError, match="pictures lie in the folder"):
        write_report(LANTERN, {name: b"x"}, tmp_path / "out")
    assert os.listdir(tmp_path) == []


def test_a_folder_that_cannot_be_written_is_told_in_one_line(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(UsageError, match="the report cannot be written"):
        write_report(LANTERN, {}, tmp_path / "file" / "out")
