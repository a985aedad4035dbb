"""What is shown of a name is safe to print, and different names never look the same."""

import re
import unicodedata

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from reviewbot.history.paths import visible_text


def bytes_behind(text: str) -> bytes:
    r"""The inverse, written from the docstring: \xhh a byte, \u and \U a character, \\ one \."""

    def one(found: re.Match[str]) -> str:
        if found[0] == "\\\\":
            return "\\"
        code = int(found[0][2:], 16)
        return chr(0xDC00 + code) if found[0][1] == "x" and code >= 0x80 else chr(code)

    pattern = r"\\\\|\\x[0-9a-f]{2}|\\u[0-9a-f]{4}|\\U[0-9a-f]{8}"
    return re.sub(pattern, one, text).encode("utf-8", "surrogateescape")


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        (b"props/jug.obj", "props/jug.obj"),
        ("props/Krüge und Töpfe.obj".encode(), "props/Krüge und Töpfe.obj"),
        (b"caf\xe9.obj", "caf\\xe9.obj"),
        (b"two\nlines\t.obj", "two\\x0alines\\x09.obj"),
        (b"red\x1b[31m.obj", "red\\x1b[31m.obj"),
        ("turned\u202eround.obj".encode(), "turned\\u202eround.obj"),
        ("\U000e0041.obj".encode(), "\\U000e0041.obj"),
        (b"back\\slash.obj", "back\\\\slash.obj"),
        (b"\\xe9", "\\\\xe9"),
        (b'"quoted" and blank .obj', '"quoted" and blank .obj'),
        (b"\xed\xa0\x80.obj", "\\xed\\xa0\\x80.obj"),
    ],
)
def test_shows_a_name(raw: bytes, shown: str) -> None:
    assert visible_text(raw) == shown


@given(st.binary(max_size=40) | st.text(max_size=40).map(lambda t: t.encode("utf-8", "replace")))
@example(b"\xff\\xff\\\\xff")
@example("\x85\u2028\ufeff".encode())
def test_the_bytes_can_be_worked_out_again(raw: bytes) -> None:
    assert bytes_behind(visible_text(raw)) == raw


@given(st.binary(max_size=40))
def test_nothing_unseen_is_left(raw: bytes) -> None:
    for character in visible_text(raw):
        assert unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
