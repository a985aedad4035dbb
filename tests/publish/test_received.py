"""Reports from jobs that ran strangers' files: what passes, and what is left out."""

from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, PngImagePlugin
from report.sample import lantern_report, picture_bytes

from reviewbot.errors import UsageError
from reviewbot.publish import received
from reviewbot.publish.folder import write_report
from reviewbot.publish.received import read_received


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    report = lantern_report()
    write_report(report, picture_bytes(report), tmp_path / "in")
    return tmp_path / "in"


def first_picture() -> str:
    return next(name for name in picture_bytes(lantern_report()) if name.endswith(".png"))


def pixels(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"), dtype=int)


def encoded(image: Image.Image, kind: str, **more: object) -> bytes:
    out = io.BytesIO()
    image.save(out, format=kind, **more)
    return out.getvalue()


def test_an_honest_report_passes_with_all_its_pictures(folder: Path) -> None:
    found = read_received(folder)
    assert found.report == lantern_report()
    assert found.pictures.keys() == picture_bytes(lantern_report()).keys()
    assert found.refused == ()
    for name, data in picture_bytes(lantern_report()).items():
        before = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"), dtype=int)
        after = np.asarray(Image.open(io.BytesIO(found.pictures[name])).convert("RGB"), dtype=int)
        assert np.abs(before - after).mean() < 4, name


def test_nothing_but_pixels_passes(folder: Path) -> None:
    note = PngImagePlugin.PngInfo()
    note.add_text("Comment", "<script>alert(1)</script>")
    hidden = encoded(Image.new("RGB", (8, 8), "teal"), "PNG", pnginfo=note) + b"PK\x03\x04 and more"
    (folder / first_picture()).write_bytes(hidden)
    after = read_received(folder).pictures[first_picture()]
    assert b"script" not in after
    assert b"PK" not in after
    assert Image.open(io.BytesIO(after)).getpixel((0, 0)) == (0, 128, 128)


def test_an_animation_is_kept_as_its_first_frame(folder: Path) -> None:
    name = first_picture().replace(".png", ".webp")
    text = (folder / "report.json").read_text("utf-8")
    (folder / "report.json").write_text(text.replace(first_picture(), name), "utf-8")
    frames = [Image.new("RGB", (8, 8), colour) for colour in ("white", "red") * 4]
    flashing = encoded(frames[0], "WEBP", save_all=True, append_images=frames[1:], duration=50)
    assert Image.open(io.BytesIO(flashing)).n_frames == 8
    (folder / name).write_bytes(flashing)
    after = Image.open(io.BytesIO(read_received(folder).pictures[name]))
    assert getattr(after, "n_frames", 1) == 1


def bomb() -> bytes:
    """A small PNG that says it is 30,000 pixels wide and high."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 100_000))
    )


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<svg onload='alert(1)'/>",
        b"\x89PNG\r\n\x1a\n",
        bomb(),
        encoded(Image.new("RGB", (8, 8)), "GIF"),
        encoded(Image.new("RGB", (8, 8)), "WEBP"),
        encoded(Image.new("RGB", (64, 64)), "PNG")[:60],
        b"\0" * (17 * 2**20),
    ],
    ids=["empty", "svg", "head", "bomb", "gif", "other-kind", "cut", "large"],
)
def test_what_is_no_such_picture_is_left_out(folder: Path, data: bytes) -> None:
    (folder / first_picture()).write_bytes(data)
    found = read_received(folder)
    assert first_picture() not in found.pictures
    assert len(found.refused) == 1
    assert len(found.pictures) == len(picture_bytes(lantern_report())) - 1


def test_a_missing_picture_is_left_out(folder: Path) -> None:
    (folder / first_picture()).unlink()
    assert "missing" in read_received(folder).refused[0]


@pytest.mark.parametrize("part", ["file", "folder"])
def test_a_link_leads_nowhere(folder: Path, tmp_path: Path, part: str) -> None:
    secret = tmp_path / "secret"
    path = folder / first_picture()
    if part == "file":
        secret.write_bytes(path.read_bytes())
        path.unlink()
        path.symlink_to(secret)
    else:
        os.rename(path.parent, secret)
        path.parent.symlink_to(secret)
    assert first_picture() not in read_received(folder).pictures


@pytest.mark.parametrize(
    "name",
    [
        "../secret.png",
        "/etc/secret.png",
        "pictures/../../secret.png",
        "pictures",
        "x.png",
        "a\\b.png",
    ],
)
def test_a_name_cannot_lead_out(folder: Path, name: str) -> None:
    text = (folder / "report.json").read_text("utf-8")
    escaped = name.replace("\\", "\\\\")
    (folder / "report.json").write_text(text.replace(first_picture(), escaped), "utf-8")
    (folder.parent / "secret.png").write_bytes(encoded(Image.new("RGB", (8, 8)), "PNG"))
    found = read_received(folder)
    assert name not in found.pictures
    assert found.refused


@pytest.mark.parametrize(
    "text", ["", "{}", "[]", "null", '{"schema": 2}', "[" * 100_000, '{"schema": 1, "more": 1}']
)
def test_a_report_must_fulfil_the_schema(folder: Path, text: str) -> None:
    (folder / "report.json").write_text(text, "utf-8")
    with pytest.raises(UsageError, match="does not fulfil the schema"):
        read_received(folder)


def test_a_report_must_be_there_itself(folder: Path, tmp_path: Path) -> None:
    (folder / "report.json").rename(tmp_path / "elsewhere.json")
    with pytest.raises(UsageError, match="cannot be read"):
        read_received(folder)
    (folder / "report.json").symlink_to(tmp_path / "elsewhere.json")
    with pytest.raises(UsageError, match="is a link"):
        read_received(folder)


def test_more_pictures_than_are_taken_are_counted(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    count = len(picture_bytes(lantern_report()))
    assert received.MOST_PICTURES == 2000
    monkeypatch.setattr(received, "MOST_PICTURES", 2)
    taken = read_received(folder)
    assert len(taken.pictures) == 2
    assert taken.refused == (f"{count - 2} pictures more than are taken were left out",)


def test_a_report_may_not_be_endless(folder: Path) -> None:
    with (folder / "report.json").open("ab") as file:
        file.truncate(received.LARGEST_REPORT + 1)
    with pytest.raises(UsageError, match="too large"):
        read_received(folder)
