"""Names from files as printable text, whatever bytes they are."""

from __future__ import annotations

REPLACEMENT = "\N{REPLACEMENT CHARACTER}"


def printable_name(raw: bytes) -> str:
    """UTF-8 where it is that, else Windows-1252; what cannot be printed becomes U+FFFD.

    Runs of blanks become one, so that a name is the same however it was laid out.
    """
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return printable_text(text)


def printable_text(text: str) -> str:
    """One line of printable characters; what is none becomes U+FFFD."""
    return "".join(c if c.isprintable() else REPLACEMENT for c in " ".join(text.split()))
