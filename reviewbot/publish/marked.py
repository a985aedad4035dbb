"""What is found again, so that it is not written twice: comments and verdicts."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from reviewbot.publish.api import Json, UnsureError


def first_own(
    written: Iterable[Json], *, author: tuple[str, str], text: str, account: str, marker: str
) -> Json | None:
    """The first of these that `account` wrote with this marker; anybody can write a marker.

    author  the fields that lead to the writer's name; the first is null where the account is gone
    text    the field that holds what was written
    """
    who, name = author
    for one in written:
        is_own = (one[who] or {}).get(name) == account
        if is_own and (one[text] or "").startswith(marker):
            return one
    return None


def put_once(
    find: Callable[[], Json | None], write: Callable[[], str], edit: Callable[[Json], str]
) -> str:
    """Edits what is found, else writes it; never twice, even where an answer was lost on the way.

    write  raises UnsureError where it cannot tell whether it has written
    """
    earlier = find()
    if earlier is None:
        try:
            return write()
        except UnsureError:
            earlier = find()
            if earlier is None:
                raise
    return edit(earlier)


def stands_already(written: Iterable[Json], sent: Json, *, name: str) -> bool:
    """Whether the newest status of the same name says what is to be sent.

    name  the field that holds it
    """
    same = (one for one in written if one[name] == sent[name])
    newest = max(same, key=lambda one: int(one["id"]), default=None)
    return newest is not None and _said(newest) == _said(sent)


def _said(status: Json) -> tuple[Json, ...]:
    state = status.get("state") or status.get("status")  # hosts differ
    return (state, status.get("description") or None, status.get("target_url") or None)
