"""Large files from a server that the person who runs this tool trusts.

Nothing that a repository says about servers is read: git-lfs runs in an empty repository of our
own, with the trusted address as its only one, and finds no `.lfsconfig` there. What it brings is
taken only where size and hash are those of the pointer.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from tempfile import TemporaryDirectory

from reviewbot.errors import RemoteError, UsageError
from reviewbot.history.address import Address, parse_address
from reviewbot.history.fetch import run_remote_git
from reviewbot.history.pointers import Pointer, object_path

SERVER_VARIABLE = "REVIEWBOT_LFS_URL"
FETCH_SECONDS = 600.0


def trusted_server() -> Address | None:
    """The server that REVIEWBOT_LFS_URL names; None where it is not set.

    Raises UsageError for an address that is none.
    """
    text = os.environ.get(SERVER_VARIABLE, "")
    if not text:
        return None
    address = parse_address(text)
    if address is None:
        raise UsageError(f"{SERVER_VARIABLE}: give an address, such as https://host/owner/name.git")
    return address


def interface_url(server: Address) -> str:
    """Where git-lfs asks: below a repository's address over https, else at the address itself.

    Source: https://github.com/git-lfs/git-lfs/blob/main/docs/api/server-discovery.md
    """
    is_repository = server.url.startswith("https://") and server.url.endswith(".git")
    return f"{server.url}/info/lfs" if is_repository else server.url


def bring_object(pointer: Pointer, *, storage: Path, server: Address) -> None:
    """Brings a large file into the storage, where `pointers.resolve_pointer` checks and reads it.

    storage  the repository's ``lfs/objects`` folder; made where it is missing

    Raises RemoteError where git-lfs is not installed, or does not get the file from the server.
    """
    with TemporaryDirectory(prefix="reviewbot-") as scratch:
        bare = Path(scratch) / "empty.git"
        bare.mkdir()
        _git(bare, "init", "--quiet", "--bare", "--template=", server=None)
        _git(bare, "lfs", "smudge", "large-file", server=server, stdin=_text(pointer))
        got, kept = object_path(bare / "lfs" / "objects", pointer), object_path(storage, pointer)
        _move_whole(got, kept)


def _git(bare: Path, *arguments: str, server: Address | None, stdin: bytes = b"") -> None:
    settings = []
    if server is not None:
        # git-lfs brings files from a folder on this machine only where a remote names it as well.
        settings = [("lfs.url", interface_url(server)), ("remote.origin.url", server.url)]
    told = run_remote_git(
        bare,
        *arguments,
        address=server,
        seconds=FETCH_SECONDS,
        stdin=stdin,
        configured=settings,
    )
    if "is not a git command" in told.errors:
        raise RemoteError("git-lfs is not installed here")
    if told.status:
        raise RemoteError(told.errors[:300] or f"git-lfs ends with status {told.status}")


def _text(pointer: Pointer) -> bytes:
    """As the pointer's specification has it, whatever else the repository wrote into its own."""
    version = "https://git-lfs.github.com/spec/v1"
    return f"version {version}\noid sha256:{pointer.sha256}\nsize {pointer.size}\n".encode()


def _move_whole(got: Path, kept: Path) -> None:
    """Into place, whole or not at all, from what may be another disk."""
    unfinished = kept.with_name(f"{kept.name}.{os.getpid()}.part")
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        try:
            shutil.copyfile(got, unfinished)
            unfinished.replace(kept)
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise RemoteError(f"the large file cannot be kept: {error.strerror}") from error
