"""Real git repositories in temporary folders, for the tests."""

from __future__ import annotations

import os
import subprocess
from dataclasses import dataclass
from pathlib import Path

# A developer's own settings must not decide what these tests see.
PLAIN = {
    "GIT_CONFIG_GLOBAL": os.devnull,
    "GIT_CONFIG_NOSYSTEM": "1",
    "GIT_AUTHOR_NAME": "Ines Okafor",
    "GIT_AUTHOR_EMAIL": "ines@example.org",
    "GIT_AUTHOR_DATE": "1709280000 +0100",
    "GIT_COMMITTER_NAME": "Ines Okafor",
    "GIT_COMMITTER_EMAIL": "ines@example.org",
    "GIT_COMMITTER_DATE": "1709280000 +0100",
}


@dataclass(frozen=True)
class Repository:
    """A work tree and the git that an artist would run in it."""

    folder: Path

    def git(
        self,
        *arguments: str | bytes,
        cwd: Path | None = None,
        environment: dict[str, str] | None = None,
    ) -> bytes:
        return subprocess.run(
            ["git", *arguments],
            cwd=cwd or self.folder,
            env={**os.environ, **PLAIN, **(environment or {})},
            check=True,
            capture_output=True,
        ).stdout

    def write(self, name: str | bytes, content: bytes) -> None:
        path = os.path.join(os.fsencode(self.folder), os.fsencode(name))
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as file:
            file.write(content)

    def commit(
        self, files: dict[str | bytes, bytes] | None = None, message: str = "Export again"
    ) -> str:
        """Writes the files, commits all that is there and gives the commit's id."""
        for name, content in (files or {}).items():
            self.write(name, content)
        self.git("add", "--all")
        self.git("commit", "--quiet", "--allow-empty", "-m", message)
        return self.head()

    def head(self) -> str:
        return self.git("rev-parse", "HEAD").decode().strip()
