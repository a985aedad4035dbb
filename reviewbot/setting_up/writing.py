"""Files written into a repository; what is there already is never replaced in silence."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from reviewbot.errors import UsageError
from reviewbot.publish.folder import write_whole
from reviewbot.setting_up.actions import Action
from reviewbot.setting_up.files import ATTRIBUTES_FILE, SetupFile, hosted_files, large_file_lines

_ATTRIBUTES_WHY = (
    "keeps meshes and pictures beside git (large-file pointers): every machine needs git-lfs and "
    "`git lfs install` once; files that are in git already stay there until they change"
)


def set_up(folder: Path, *, action: Action | None, force: bool) -> list[str]:
    """Writes what a hosted review needs; what was done, in lines for people.

    force  replaces files that are there; attributes are only ever added

    Raises UsageError where `folder` is missing, is no top of a repository, or cannot be written.
    """
    _require_top(folder)
    try:
        lines = [
            line for file in hosted_files(action) for line in _written(folder, file, force=force)
        ]
        lines += _with_attributes(folder / ATTRIBUTES_FILE, large_file_lines())
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{folder} cannot be set up: {error}") from error
    return [*lines, *_what_is_next(action)]


def _require_top(folder: Path) -> None:
    """Workflows count at a repository's top only; a folder that is no repository yet is fine."""
    if not folder.is_dir():
        raise UsageError(f"{folder}: no such folder")
    if (folder / ".git").exists():
        return
    for above in folder.resolve().parents:
        if (above / ".git").exists():
            raise UsageError(f"{folder} lies inside a repository: set up its top, {above}")


def _written(folder: Path, file: SetupFile, *, force: bool) -> list[str]:
    path = folder / file.path
    is_there = os.path.lexists(path)
    found = path.read_bytes().decode("utf-8", "replace") if path.is_file() else None
    if found == file.text:
        return [f"{file.path} is there as it should be"]
    if is_there and found != file.draft and not force:
        return [f"left {file.path} alone: there is another already (--force replaces it)"]
    write_whole(path, file.text.encode())
    return [f"{'replaced' if is_there else 'wrote'} {file.path}", f"    {file.why}"]


def _with_attributes(path: Path, lines: Sequence[str]) -> list[str]:
    """Adds the lines whose pattern the file does not speak of yet."""
    is_there = os.path.lexists(path)
    text = path.read_text("utf-8") if is_there else ""
    spoken_of = {line.split()[0] for line in text.splitlines() if line.strip()}
    missing = [line for line in lines if line.split()[0] not in spoken_of]
    if not missing:
        return [f"{ATTRIBUTES_FILE} speaks of every mesh and picture format already"]
    gap = "\n" if text and not text.endswith("\n") else ""
    added = "\n".join(missing) + "\n"
    write_whole(path, f"{text}{gap}{added}".encode())
    if not is_there:
        return [f"wrote {ATTRIBUTES_FILE}", f"    {_ATTRIBUTES_WHY}"]
    patterns = ", ".join(line.split()[0] for line in missing)
    return [f"added to {ATTRIBUTES_FILE}: {patterns}", f"    {_ATTRIBUTES_WHY}"]


def _what_is_next(action: Action | None) -> list[str]:
    if action is None:
        return [
            "the workflows do not know where reviewbot comes from yet, and fail saying so: run "
            "`reviewbot init --action OWNER/NAME@SHA` with the repository that holds "
            "reviewbot and the full id of one of its commits"
        ]
    return ["next: read these files, commit them, and open a pull request that changes a mesh"]
