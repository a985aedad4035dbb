"""Commit and tree objects, laid out as git's manual has it (git-cat-file, gitformat-commit)."""

from datetime import UTC, datetime, timedelta

import pytest

from reviewbot.history.commits import parse_commit, parse_tree

TREE = "4b825dc642cb6eb9a060e54bf8d69288fbee4904"


def commit_object(
    *,
    author: bytes = b"Ines Okafor <ines@example.org> 1709280000 +0530",
    message: bytes = b"Move the seam\n",
    extra: bytes = b"",
) -> bytes:
    return (
        b"tree %b\nparent %b\nparent %b\nauthor %b\ncommitter Bo <b@c> 1709290000 -0200\n%b\n%b"
    ) % (TREE.encode(), b"1" * 40, b"2" * 40, author, extra, message)


def test_reads_every_field() -> None:
    commit = parse_commit("f" * 40, commit_object())
    assert commit.tree_id == TREE
    assert commit.parents == ("1" * 40, "2" * 40)
    assert (commit.author, commit.email) == ("Ines Okafor", "ines@example.org")
    assert commit.authored == datetime(2024, 3, 1, 8, 0, tzinfo=UTC)
    assert commit.authored.utcoffset() == timedelta(hours=5, minutes=30)
    assert commit.committed.utcoffset() == timedelta(hours=-2)
    assert commit.subject == "Move the seam"


@pytest.mark.parametrize(
    ("message", "subject"),
    [
        (b"One\ntwo\n\nthree\n", "One two"),
        (b"\n\n  Late start\n", "Late start"),
        (b"", ""),
        (b"No line end", "No line end"),
        (b"Red \x1b[31m \xff\n", "Red \\x1b[31m \\xff"),
    ],
)
def test_the_subject_is_the_first_paragraph(message: bytes, subject: str) -> None:
    assert parse_commit("f" * 40, commit_object(message=message)).subject == subject


@pytest.mark.parametrize(
    ("encoding", "message", "subject"),
    [
        (b"ISO-8859-1", b"Gr\xfc\xdfe", "Grüße"),
        (b"windows-1251", "Лампа".encode("cp1251"), "Лампа"),
        (b"shift_jis", "灯".encode("shift_jis"), "灯"),
        (b"rot13", b"Lamp", "Lamp"),
        (b"unicode_escape", b"\\x41", "\\\\x41"),
        (b"no-such", b"Gr\xfc\xdfe", "Gr\\xfc\\xdfe"),
    ],
)
def test_a_commit_names_its_encoding(encoding: bytes, message: bytes, subject: str) -> None:
    data = commit_object(message=message, extra=b"encoding " + encoding + b"\n")
    assert parse_commit("f" * 40, data).subject == subject


@pytest.mark.parametrize(
    "author",
    [
        b"Nobody",
        b"<>",
        b"A <a@b>",
        b"A <a@b> 99999999999999999 +0000",
        b"A <a@b> 10 +9999",
        b"",
        b"A <a@b> -62999999999999 +0000",
    ],
)
def test_a_malformed_signature_has_the_first_date(author: bytes) -> None:
    assert parse_commit("f" * 40, commit_object(author=author)).authored in (
        datetime.fromtimestamp(0, UTC),
    )


def test_an_empty_object_is_an_empty_commit() -> None:
    commit = parse_commit("f" * 40, b"")
    assert (commit.tree_id, commit.parents, commit.subject) == ("", (), "")


def test_a_folder_lists_its_names_as_bytes() -> None:
    data = b"100644 a\nb\0" + b"\x01" * 20 + b"40000 \xff\0" + b"\x02" * 20
    entries = parse_tree(data, id_bytes=20)
    assert {name: (e.mode, e.object_id) for name, e in entries.items()} == {
        b"a\nb": (b"100644", "01" * 20),
        b"\xff": (b"40000", "02" * 20),
    }


def test_a_broken_folder_ends_early() -> None:
    assert parse_tree(b"100644 a", id_bytes=20) == {}
