"""Where a hosted job gets this tool from."""

from __future__ import annotations

import re
from dataclasses import dataclass

from reviewbot.errors import UsageError

_ACTION = re.compile(r"([A-Za-z0-9_.-]+/[A-Za-z0-9_.-]+)@([0-9a-f]{40})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """A repository that holds this tool, at one commit.

    repository  OWNER/NAME
    commit      its full id: a tag or branch could be moved to other code
    """

    repository: str
    commit: str


def parse_action(text: str) -> Action:
    """From OWNER/NAME@SHA. Raises UsageError for anything else."""
    found = _ACTION.fullmatch(text)
    if found is None:
        raise UsageError(
            f"--action {text}: give OWNER/NAME@SHA, the repository that holds reviewbot and the "
            "full id of one of its commits (40 hexadecimal digits; a tag or branch could be moved)"
        )
    return Action(repository=found[1], commit=found[2])
