"""What the Markdown report is put together from: sentences, lists and blocks that fit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from reviewbot.report.families import Family
from reviewbot.report.plain_text import markdown_name, markdown_sentence
from reviewbot.report.report import ChangeEntry, FindingEntry
from reviewbot.report.wording import counted

ROWS = 25  # in one table or list
REMARK_ROOM = 200  # characters kept free for a sentence that counts what was left out
_MISFITS = 5

Entry = TypeVar("Entry")


def said(
    family: Family[FindingEntry] | Family[ChangeEntry], names: frozenset[str], parts: int = 3
) -> str:
    """The message after the parts it is about, where it does not name them itself."""
    shown = [markdown_name(part) if part else "whole asset" for part in family.parts[:parts]]
    left = len(family.parts) - len(shown)
    about = ", ".join(shown) + (f" and {left:,} more" if left else "")
    told = with_acceptance(family.first.message, family.first.accepted, names)
    return f"{about}: {told}" if about else told


def with_acceptance(message: str, accepted: str | None, names: frozenset[str]) -> str:
    told = markdown_sentence(message, names)
    return told if accepted is None else f"{told} Accepted: {markdown_sentence(accepted, names)}"


def limited(entries: Sequence[Entry], write: Callable[[Entry], str], noun: str) -> str:
    """A line an entry, as many as a table holds, and how many more there are."""
    shown = "\n".join(write(entry) for entry in entries[:ROWS])
    return joined([shown, left_out(len(entries) - ROWS, noun)])


def left_out(left: int, noun: str) -> str:
    return f"And {counted(left, f'more {noun}')}: see the page." if left > 0 else ""


def that_fit(
    entries: Sequence[Entry], write: Callable[[Entry], str], room: int, *, gap: int
) -> tuple[list[str], list[Entry]]:
    """As many entries as `room` characters hold, as text with `gap` between, and the others.

    After a few that do not fit the rest is not tried: it would be written to be thrown away.
    """
    shown: list[str] = []
    misfits: list[Entry] = []
    for entry in entries:
        block = write(entry) if len(misfits) < _MISFITS else ""
        need = len(block) + gap
        if block and need <= room:
            shown.append(block)
            room -= need
        else:
            misfits.append(entry)
    return shown, misfits


def joined(blocks: Iterable[str]) -> str:
    return "\n\n".join(block for block in blocks if block)
