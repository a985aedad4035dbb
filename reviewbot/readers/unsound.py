"""What readers raise inside; each public reader turns it into a MeshReadError with the path."""

from __future__ import annotations


class UnsoundFileError(Exception):
    """A file breaks its format's rules; `reason` and `line` as in MeshReadError."""

    def __init__(self, reason: str, *, line: int | None = None) -> None:
        super().__init__(reason)
        self.reason, self.line = reason, line
