"""What is said of a cache."""

from __future__ import annotations

from datetime import UTC, datetime

from reviewbot.cache.disk import Contents, Place


def contents_text(place: Place, held: Contents) -> str:
    """Where it lies, how much is in it, and since when."""
    lines = [
        f"folder   {place.folder}",
        f"entries  {held.entries:,}",
        f"size     {megabytes(held.size)} of {place.most_mb:,} MB",
    ]
    if held.oldest is not None:
        last = datetime.fromtimestamp(held.oldest, UTC)
        lines.append(f"oldest   last used {last:%Y-%m-%d %H:%M} UTC")
    return "\n".join(lines)


def trimmed_text(out: Contents) -> str:
    """What a trim took out."""
    noun = "entry" if out.entries == 1 else "entries"
    return f"took out {out.entries:,} {noun}, {megabytes(out.size)}"


def megabytes(size: int) -> str:
    """Of 2^20 bytes, as everywhere in this program."""
    return f"{size / (1 << 20):,.1f} MB"
