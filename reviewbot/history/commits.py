"""Commits and trees, read from git's objects."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

from reviewbot.history.paths import visible_text

_SIGNATURE = re.compile(
    rb"(?P<name>.*?) ?<(?P<email>[^>]*)>(?: (?P<seconds>-?\d+) (?P<zone>[+-]\d{4}))?"
)
# A commit names its encoding itself; Python's codecs hold more than character sets.
_PLAIN_ENCODING = re.compile(
    rb"(iso-?8859-?|latin-?|windows-?|cp|koi8-|euc-|gb|shift_?jis|big5)[\w-]{0,8}", re.IGNORECASE
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Commit:
    """One commit.

    commit_id, tree_id, parents  full ids
    author, email, subject       for reading; control characters shown as escapes
    authored, committed          in the zone that the writer's machine was in; 1970 where unreadable
    """

    commit_id: str
    tree_id: str
    parents: tuple[str, ...]
    author: str
    email: str
    authored: datetime
    committed: datetime
    subject: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeEntry:
    """One name in a folder. mode  b"100644", b"120000" for a link, b"40000" for a folder ..."""

    mode: bytes
    object_id: str


def parse_commit(commit_id: str, data: bytes) -> Commit:
    """A commit from its object's bytes; what is malformed is left empty."""
    head, _, message = data.partition(b"\n\n")
    lines = [line.partition(b" ") for line in head.split(b"\n")]
    fields = {key: value for key, _, value in reversed(lines)}
    parents = [value for key, _, value in lines if key == b"parent"]
    encoding = fields.get(b"encoding", b"utf-8")
    author, email, authored = _signature(fields.get(b"author", b""), encoding)
    return Commit(
        commit_id=commit_id,
        tree_id=fields.get(b"tree", b"").decode("ascii", "replace"),
        parents=tuple(parent.decode("ascii", "replace") for parent in parents),
        author=author,
        email=email,
        authored=authored,
        committed=_signature(fields.get(b"committer", b""), encoding)[2],
        subject=_visible(_subject(message), encoding),
    )


def _subject(message: bytes) -> bytes:
    """The first paragraph as one line, as git itself shows it."""
    paragraph = re.split(rb"\n[ \t\r]*\n", message.lstrip(b"\n \t\r"), maxsplit=1)[0]
    return b" ".join(line.strip() for line in paragraph.split(b"\n")).strip()


def _signature(line: bytes, encoding: bytes) -> tuple[str, str, datetime]:
    found = _SIGNATURE.match(line)
    if found is None:
        return _visible(line, encoding), "", datetime.fromtimestamp(0, UTC)
    when = _moment(int(found["seconds"] or 0), (found["zone"] or b"+0000").decode("ascii"))
    return _visible(found["name"], encoding), _visible(found["email"], encoding), when


def _moment(seconds: int, zone: str) -> datetime:
    try:
        offset = timedelta(hours=int(zone[1:3]), minutes=int(zone[3:5]))
        return datetime.fromtimestamp(seconds, timezone(-offset if zone[0] == "-" else offset))
    except (ValueError, OverflowError, OSError):  # a year or a zone that no calendar has
        return datetime.fromtimestamp(0, UTC)


def _visible(raw: bytes, encoding: bytes) -> str:
    """Text in the commit's own encoding where that is a plain one, else as the bytes stand."""
    if not _PLAIN_ENCODING.fullmatch(encoding):
        return visible_text(raw)
    try:
        return visible_text(raw.decode(encoding.decode("ascii")).encode("utf-8"))
    except (LookupError, UnicodeError):
        return visible_text(raw)


def parse_tree(data: bytes, *, id_bytes: int) -> dict[bytes, TreeEntry]:
    """A folder's entries by name, up to the first malformed one.

    id_bytes  20, or 32 in a SHA-256 repository
    """
    entries: dict[bytes, TreeEntry] = {}
    at = 0
    while (end := data.find(b"\0", at)) >= 0:
        mode, _, name = data[at:end].partition(b" ")
        at = end + 1 + id_bytes
        entries[name] = TreeEntry(mode=mode, object_id=data[end + 1 : at].hex())
    return entries
