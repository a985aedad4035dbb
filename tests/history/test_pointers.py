"""Pointers by the published specification: https://github.com/git-lfs/git-lfs/blob/main/docs/spec.md."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from reviewbot.errors import MeshReadError
from reviewbot.history.pointers import Pointer, object_path, parse_pointer, resolve_pointer

# The specification's own example.
OID = "4d7a214614ab2935c943f9e0ff69d22eadbb8f32b1258daaa5e2ca24d17e2393"
EXAMPLE = f"version https://git-lfs.github.com/spec/v1\noid sha256:{OID}\nsize 12345\n"


def test_reads_the_example_of_the_specification() -> None:
    assert parse_pointer(EXAMPLE.encode()) == Pointer(sha256=OID, size=12345, is_plain=True)


def test_keeps_an_object_where_the_specification_says() -> None:
    pointer = Pointer(sha256=OID, size=12345, is_plain=True)
    assert object_path(Path("objects"), pointer) == Path(f"objects/4d/7a/{OID}")


def test_reads_the_earlier_version() -> None:
    earlier = EXAMPLE.replace("git-lfs.github.com", "hawser.github.com")
    assert parse_pointer(earlier.encode()) is not None


def test_unknown_keys_are_passed_over_and_extensions_said() -> None:
    more = EXAMPLE.replace("size", "remark of a later version\nsize")
    assert parse_pointer(more.encode()) == parse_pointer(EXAMPLE.encode())
    extended = EXAMPLE.replace("oid", f"ext-0-pack sha256:{OID}\noid")
    assert parse_pointer(extended.encode()) == Pointer(sha256=OID, size=12345, is_plain=False)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "v 0 0 0\n",
        EXAMPLE[:-1],  # each line ends
        EXAMPLE.replace("\n", "\r\n"),
        EXAMPLE.replace("version ", "version  "),
        EXAMPLE.replace("https://git-lfs.github.com/spec/v1", "https://example.org/spec/v1"),
        EXAMPLE.replace("HTTPS".lower(), "HTTPS"),  # simple string comparison
        EXAMPLE.replace(OID, OID.upper()),  # lower-case hexadecimal
        EXAMPLE.replace(OID, OID[:-1]),
        EXAMPLE.replace(OID, "../../../../etc/passwd"),
        EXAMPLE.replace("sha256", "md5"),
        EXAMPLE.replace("12345", "-1"),
        EXAMPLE.replace("12345", "1e3"),
        EXAMPLE.replace("size 12345\n", ""),
        EXAMPLE.replace("size", "Size"),
        EXAMPLE + "size 12345\n",  # keys rise
        EXAMPLE + "a later key\n",
        EXAMPLE.replace("size 12345\n", "size 12345\n\n"),
        EXAMPLE + f"z {'x' * 1024}\n",
    ],
)
def test_anything_else_is_the_file_itself(text: str) -> None:
    assert parse_pointer(text.encode()) is None


def test_bytes_that_are_no_text_are_the_file_itself() -> None:
    assert parse_pointer(b"version \xff\n") is None


def kept_object(storage: Path, content: bytes) -> Pointer:
    pointer = Pointer(sha256=hashlib.sha256(content).hexdigest(), size=len(content), is_plain=True)
    path = object_path(storage, pointer)
    path.parent.mkdir(parents=True)
    path.write_bytes(content)
    return pointer


def test_gives_the_bytes_that_it_stands_for(tmp_path: Path) -> None:
    pointer = kept_object(tmp_path, b"v 1 2 3\n")
    assert resolve_pointer(pointer, storage=tmp_path, path="jug.obj") == b"v 1 2 3\n"


@pytest.mark.parametrize("content", [b"v 1 2 4\n", b"v 1 2", b""])
def test_refuses_other_bytes(tmp_path: Path, content: bytes) -> None:
    pointer = kept_object(tmp_path, b"v 1 2 3\n")
    object_path(tmp_path, pointer).write_bytes(content)
    with pytest.raises(MeshReadError, match=r"^jug\.obj: its large file"):
        resolve_pointer(pointer, storage=tmp_path, path="jug.obj")


def test_says_that_the_object_is_missing(tmp_path: Path) -> None:
    pointer = Pointer(sha256=OID, size=12345, is_plain=True)
    with pytest.raises(MeshReadError, match=r"12,345 bytes.*is not on this machine.*git lfs fetch"):
        resolve_pointer(pointer, storage=tmp_path, path="jug.obj")


def test_says_that_an_extension_is_not_run(tmp_path: Path) -> None:
    pointer = Pointer(sha256=OID, size=12345, is_plain=False)
    with pytest.raises(MeshReadError, match="extension"):
        resolve_pointer(pointer, storage=tmp_path, path="jug.obj")
