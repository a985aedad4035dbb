"""Repositories whose commits are made at set times, by set people, for the tests."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from repositories import Repository

TRIANGLE = b"o leaf\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"


def leaf(width: float = 1.0) -> bytes:
    """An OBJ of one triangle without UVs; another width is another file."""
    return TRIANGLE.replace(b"v 1 0 0", f"v {width} 0 0".encode())


def box(name: str = "box", *, sides: int = 6, scale: float = 1.0) -> bytes:
    """An OBJ of a box, with UVs on all of its faces; fewer sides leave it open."""
    corners = [(x, y, z) for x in (-1, 1) for y in (0, 2) for z in (-1, 1)]
    faces = ["1 2 4 3", "5 7 8 6", "1 5 6 2", "3 4 8 7", "1 3 7 5", "2 6 8 4"][:sides]
    lines = [f"o {name}"]
    lines += [f"v {scale * x} {scale * y} {scale * z}" for x, y, z in corners]
    for at in range(len(faces)):
        left, low = 0.04 + 0.32 * (at % 3), 0.04 + 0.32 * (at // 3)
        lines += [
            f"vt {left + u} {low + v}" for u, v in ((0, 0), (0.28, 0), (0.28, 0.28), (0, 0.28))
        ]
    for at, face in enumerate(faces):
        points = face.split()
        lines.append("f " + " ".join(f"{p}/{4 * at + k + 1}" for k, p in enumerate(points)))
    return ("\n".join(lines) + "\n").encode()


@dataclass(frozen=True)
class Dated(Repository):
    """A repository in which every commit says when."""

    @classmethod
    def new(cls, folder: Path) -> Dated:
        made = cls(folder)
        folder.mkdir()
        made.git("init", "--quiet", "--template=", "--initial-branch=main")
        return made

    def at(
        self,
        when: str,
        files: dict[str | bytes, bytes | None] | None = None,
        *,
        message: str = "Export again",
        author: str = "Ines Okafor",
        email: str = "ines@example.org",
    ) -> str:
        """A commit made at a time such as "2025-03-24T12:00:00 +0100"; None takes a file away."""
        for name, content in (files or {}).items():
            if content is None:
                self.git("rm", "--quiet", "--", name)
            else:
                self.write(name, content)
        self.git("add", "--all")
        arguments = ("commit", "--quiet", "--allow-empty", "-m", message)
        self.git(*arguments, environment=said(when, author, email))
        return self.head()

    def merge(self, when: str, branch: str, *options: str) -> str:
        arguments = ("merge", "--quiet", "--no-ff", "-m", f"Merge {branch}", *options, branch)
        self.git(*arguments, environment=said(when, "Ines Okafor", "ines@example.org"))
        return self.head()

    def branch(self, name: str) -> None:
        self.git("checkout", "--quiet", "-b", name)

    def switch(self, name: str) -> None:
        self.git("checkout", "--quiet", name)


def said(when: str, author: str, email: str) -> dict[str, str]:
    return {
        "GIT_AUTHOR_DATE": when,
        "GIT_COMMITTER_DATE": when,
        "GIT_AUTHOR_NAME": author,
        "GIT_AUTHOR_EMAIL": email,
        "GIT_COMMITTER_NAME": author,
        "GIT_COMMITTER_EMAIL": email,
    }
