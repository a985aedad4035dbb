"""An OBJ file's bytes as plain lines, and the way back from a byte to its line number."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

from reviewbot.errors import MeshReadError

_CONTINUED = re.compile(rb"\\[ \t]*\r?\n")
COMMENT = re.compile(rb"(?<![^\s])#.*")
_LONE_RETURN = re.compile(rb"\r(?!\n)")
_BYTE_ORDER_MARKS = {codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ObjText:
    """Text whose lines end in a newline or in return and newline.

    lines     continued lines joined by blanks in place, so that every byte keeps its offset
    original  the same bytes before joining: line numbers are counted in it
    """

    path: str
    lines: bytes
    original: bytes

    def line_number(self, offset: int) -> int:
        """1-based line of the file that holds a byte of `lines`."""
        head = self.original[:offset]
        return 1 + head.count(b"\n") + head.count(b"\r") - head.count(b"\r\n")

    def error(self, offset: int, reason: str) -> MeshReadError:
        return MeshReadError(path=self.path, line=self.line_number(offset), reason=reason)


def obj_text(data: bytes, *, path: str) -> ObjText:
    """Raises MeshReadError for what is no text."""
    original = _as_ascii_superset(data, path)
    lines = original
    if b"\r" in lines and lines.count(b"\r") != lines.count(b"\r\n"):
        lines = _LONE_RETURN.sub(b"\n", lines)
    if b"\\" in lines:
        unjoined = lines
        lines = _CONTINUED.sub(lambda found: _joined(unjoined, found), lines)
    return ObjText(path=path, lines=lines, original=original)


def _as_ascii_superset(data: bytes, path: str) -> bytes:
    encoding = _BYTE_ORDER_MARKS.get(data[:2])
    if encoding:
        try:
            return data.decode(encoding).encode("utf-8")
        except UnicodeDecodeError as error:
            raise MeshReadError(
                path=path, line=None, reason="begins as UTF-16 text but goes on as something else"
            ) from error
    if b"\0" in data:
        line = 1 + data[: data.index(b"\0")].count(b"\n")
        raise MeshReadError(path=path, line=line, reason="holds zero bytes, so it is no text")
    if data.startswith(codecs.BOM_UTF8):
        return data.replace(codecs.BOM_UTF8, b"   ", 1)
    return data


def _joined(text: bytes, found: re.Match[bytes]) -> bytes:
    """Blanks for a continuation; a comment is over at its line's end, whatever it ends in."""
    line_start = 1 + text.rfind(b"\n", 0, found.start())
    is_comment = COMMENT.search(text, line_start, found.start())
    return found[0] if is_comment else b" " * len(found[0])
