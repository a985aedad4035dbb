"""What can go wrong, as one small tree.

ReviewBotError
├── UsageError             the command line asks for what cannot be done
│   ├── SettingsError      reviewbot.toml: which file, which key, what is allowed
│   ├── RevisionError      git has no such repository, revision or path
│   ├── RemoteError        a repository's address cannot be reached, or refuses
│   └── HostError          the code host refuses, or cannot be reached
│       └── HostAwayError  it cannot be reached, is too busy, or does not take the token any more
├── MeshReadError          a file is no mesh this tool can read: which file, which line, why
└── RendererUnavailableError    the asked-for back end is not on this machine

Each message says what happened, where, and what to do about it. A `UsageError` or
`RendererUnavailableError` ends a command with exit status 2 and one line; a `MeshReadError`
becomes an `unreadable` finding and never costs another file its review. Anything else that
escapes is a bug of this tool.
"""

from __future__ import annotations


class ReviewBotError(Exception):
    """Base of every expected failure."""


class UsageError(ReviewBotError):
    """The command cannot be run as asked."""


class SettingsError(UsageError):
    """A settings file is wrong."""

    def __init__(self, *, path: str, key: str, reason: str) -> None:
        self.path, self.key, self.reason = path, key, reason
        where = f"{path}, key '{key}'" if key else path
        super().__init__(f"{where}: {reason}")


class RevisionError(UsageError):
    """Git has no such repository, revision or path."""


class RemoteError(UsageError):
    """A repository's address cannot be reached, or refuses; the message never holds a password."""


class HostError(UsageError):
    """The code host refuses, or cannot be reached; the message never holds a token."""


class HostAwayError(HostError):
    """The same may go well later: the host cannot be reached, has no time, or wants a new token."""


class MeshReadError(ReviewBotError):
    """A file is no mesh this tool can read.

    line    1-based line in the file, or None where lines mean nothing (binary formats)
    reason  one plain sentence without the path, fit for a finding
    """

    def __init__(self, *, path: str, line: int | None, reason: str) -> None:
        self.path, self.line, self.reason = path, line, reason
        where = path if line is None else f"{path}, line {line}"
        super().__init__(f"{where}: {reason}")


class RendererUnavailableError(ReviewBotError):
    """The asked-for back end is not on this machine."""
