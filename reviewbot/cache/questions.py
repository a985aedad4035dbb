"""What files were seen to ask for beside them, kept so that it can be asked again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reviewbot.cache.disk import Cache
from reviewbot.history.parcels import Question

Asked = tuple[tuple[Question, ...], ...]
"""What each version of a request asked for."""
_MOST = 8  # ways the same files may have gone on, by what lay beside them


def asked_before(cache: Cache, request: str, *, versions: int) -> Iterator[Asked]:
    """What the files of a request were seen to ask for, the latest first."""
    key = f"asked {request}"
    kept = cache.get(key)
    if kept is None:
        return
    try:
        for asked in kept[0]["asked"]:
            if len(asked) != versions:
                raise ValueError("another number of versions")
            yield tuple(map(_questions, asked))
    except (KeyError, TypeError, ValueError):
        cache.drop(key, "is not understood")


def note_asked(cache: Cache, request: str, asked: Asked) -> None:
    """Keep what they asked for this time."""
    known = list(asked_before(cache, request, versions=len(asked)))
    if asked not in known:
        cache.put(f"asked {request}", {"asked": [asked, *known][:_MOST]})


def _questions(rows: Sequence[Sequence[str]]) -> tuple[Question, ...]:
    questions: list[Question] = []
    for kind, name in rows:
        if kind not in ("sibling", "picture") or not isinstance(name, str):
            raise ValueError("no question")
        questions.append(("sibling" if kind == "sibling" else "picture", name))
    return tuple(questions)
