"""File names and other foreign text, made fit to show."""

from __future__ import annotations

import unicodedata

# Control, format, surrogate, private-use and unassigned characters, line and paragraph separators:
# none of them shows as itself, and some turn the text around them.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def visible_text(raw: bytes) -> str:
    r"""Text for reading, one for one with the bytes.

    UTF-8 stays as it is. A byte that is no UTF-8 and an ASCII control character become ``\xhh``,
    another unseen character ``\uhhhh`` or ``\Uhhhhhhhh``, and a backslash ``\\``: different
    bytes never give the same text, and the bytes can be worked out again.

    >>> visible_text(b"jug\xff\n\\1.obj")
    'jug\\xff\\x0a\\\\1.obj'
    """
    text = raw.decode("utf-8", errors="surrogateescape")
    if text.isprintable() and text.isascii() and "\\" not in text:
        return text
    return "".join(map(_visible_character, text))


def _visible_character(character: str) -> str:
    code = ord(character)
    if character == "\\":
        return "\\\\"
    if 0xDC80 <= code <= 0xDCFF:  # a byte that is no UTF-8
        return f"\\x{code - 0xDC00:02x}"
    if unicodedata.category(character) not in _UNSEEN:
        return character
    if code < 0x80:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"
