"""References lead below the mesh's own folder or nowhere."""

from __future__ import annotations

import pytest

from reviewbot.readers.references import ReferenceRefusedError, fetch, inner_path


@pytest.mark.parametrize(
    ("reference", "path"),
    [
        ("lamp.mtl", "lamp.mtl"),
        ("./maps//brass 1.png", "maps/brass 1.png"),
        ("maps\\brass.png", "maps/brass.png"),
        (" lamp.bin ", "lamp.bin"),
        ("größe.png", "größe.png"),
        ("..hidden/a.png", "..hidden/a.png"),
    ],
)
def test_paths_below_the_folder_are_made_plain(reference: str, path: str) -> None:
    assert inner_path(reference) == path


@pytest.mark.parametrize(
    "reference",
    [
        "",
        ".",
        "/",
        "/etc/passwd",
        "\\\\host\\share",
        "//host/share",
        "..",
        "../a",
        "a/../../b",
        "a\\..\\..\\b",
        "C:\\a",
        "c:a",
        "file:///etc/passwd",
        "http://example.org/a",
        "data:,x",
        "a\x00b",
        "a\nb",
        "turn\N{RIGHT-TO-LEFT OVERRIDE}ed",
    ],
)
def test_all_others_are_refused(reference: str) -> None:
    asked: list[str] = []
    with pytest.raises(ReferenceRefusedError):
        fetch(reference, asked.append)
    assert not asked


def test_what_is_not_there_is_said() -> None:
    with pytest.raises(ReferenceRefusedError, match="not in the repository"):
        fetch("a.bin", lambda _: None)
    assert fetch("a.bin", {"a.bin": b"1"}.get) == b"1"
