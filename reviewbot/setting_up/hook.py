"""A local hook that looks at each commit in the background, and never holds one back."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from pathlib import Path

from reviewbot.errors import UsageError
from reviewbot.history.git import run_git
from reviewbot.publish.folder import write_whole
from reviewbot.readers.known import FORMATS
from reviewbot.setting_up.files import rendered

_OURS = "# reviewbot's nudge:"  # how the second line of our own hook begins
_LEFT_ALONE = "nothing was changed; `reviewbot init --hook` installs into the usual place only"


def install_hook(folder: Path) -> list[str]:
    """Installs the hook into a repository; what was done, in lines for people.

    A hook that is there and is not ours stays, and so does a folder of hooks of the repository's
    own. Raises UsageError where `folder` lies in no work tree, or the hook cannot be written.
    """
    hooks = _hooks_folder(folder)
    elsewhere = _hooks_kept_elsewhere(folder)
    if elsewhere:
        return [f"left alone: this repository keeps its hooks in {elsewhere}", f"    {_LEFT_ALONE}"]
    path = hooks / "post-commit"
    is_there = os.path.lexists(path)
    if is_there and not _is_ours(path):
        return [f"left {path} alone: there is another hook already", f"    {_LEFT_ALONE}"]
    command = installed_command()
    try:
        write_whole(path, hook_text(command).encode())
        path.chmod(0o755)
    except OSError as error:
        raise UsageError(f"{path} cannot be written: {error.strerror}") from error
    return [
        f"{'replaced' if is_there else 'wrote'} {path}",
        "    once a commit that touches a mesh is made, looks at it in the background and says "
        "where the page will be; no commit ever waits for it or fails by it",
    ]


def hook_text(command: str | None) -> str:
    """The hook. command  the absolute path of this tool; None: looked for at each commit"""
    suffixes = "|".join(sorted(suffix.removeprefix(".") for suffix in FORMATS))
    return rendered("post-commit", command=shlex.quote(command or ""), suffixes=suffixes)


def installed_command() -> str | None:
    """Where this tool itself is installed, else where the PATH leads; None where neither is."""
    beside = Path(sys.executable).with_name(f"reviewbot{'.exe' if os.name == 'nt' else ''}")
    if beside.is_file():
        return beside.absolute().as_posix()
    found = shutil.which("reviewbot")
    return None if found is None else Path(found).absolute().as_posix()


def _hooks_folder(folder: Path) -> Path:
    if not folder.is_dir():
        raise UsageError(f"{folder}: no such folder")
    # Not --git-path hooks: this tool runs git with hooks switched off.
    asked = run_git(folder, "rev-parse", "--is-inside-work-tree", "--git-common-dir")
    answers = os.fsdecode(asked.out).splitlines()
    if asked.status or answers[:1] != ["true"]:
        raise UsageError(f"{folder} lies in no git work tree")
    return (folder / answers[1] / "hooks").resolve()


def _hooks_kept_elsewhere(folder: Path) -> str:
    """What the repository's own settings or the user's say; the last value is this tool's own."""
    asked = run_git(folder, "config", "--get-all", "--null", "core.hooksPath")
    values = [value for value in os.fsdecode(asked.out).split("\0") if value]
    return values[-2] if len(values) > 1 else ""


def _is_ours(path: Path) -> bool:
    try:
        return path.read_text("utf-8", "replace").splitlines()[1].startswith(_OURS)
    except (OSError, IndexError):
        return False
