"""The repositories to watch, and where everything in them stands at the moment."""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path

from reviewbot.history.address import Address, parse_address
from reviewbot.history.fetch import Cancelled, fetch, list_refs, make_mirror
from reviewbot.history.git import open_history
from reviewbot.history.paths import visible_text
from reviewbot.history.refs import Refs, read_refs


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A repository to watch.

    name     a path, or an address without password: shown, and kept in the state
    slug     a plain folder name that no two places share
    folder   where git is asked: the repository itself, or a mirror of it that is kept here
    address  where the mirror comes from; None for a repository on this machine
    """

    name: str
    slug: str
    folder: Path
    address: Address | None


def places_of(texts: tuple[str, ...], mirrors: Path) -> tuple[Place, ...]:
    """Each repository named, once.

    mirrors  the folder that holds the mirrors

    Raises UsageError for an address that is not spoken, RevisionError for a path without a
    repository.
    """
    places = {place.name: place for place in (_place(text, mirrors) for text in texts)}
    return tuple(places.values())


def _place(text: str, mirrors: Path) -> Place:
    folder = Path(text)
    address = None if folder.is_dir() else parse_address(text)
    if address is None:
        with open_history(folder) as history:
            shared = history.git_folder
        # Work trees of one repository are one place.
        shown = shared.parent if shared.name == ".git" else shared
        name = visible_text(os.fsencode(shown))
        folder = folder.resolve()
    else:
        name = address.url
    slug = _slug(name)
    if address is not None:
        folder = mirrors / f"{slug}.git"
    return Place(name=name, slug=slug, folder=folder, address=address)


def _slug(name: str) -> str:
    """
    >>> _slug("https://git.example/studio/props.git"), _slug("/srv/lantern/.git")
    ('props-1c08d9fa', 'lantern-2d5e6b49')
    """
    ends = [part for part in re.split(r"[/\\:]", name) if part not in ("", ".git")]
    last = re.sub(r"[^A-Za-z0-9]+", "-", ends[-1].removesuffix(".git") if ends else "").strip("-")
    mark = hashlib.sha256(name.encode()).hexdigest()[:8]
    return f"{last[:40].lower() or 'repository'}-{mark}"


def look(place: Place, *, with_requests: bool, is_cancelled: Cancelled) -> Refs:
    """Where branches, and requests where they are wanted, stand; a mirror is brought up to date.

    Raises RemoteError where the address cannot be reached, RevisionError where the repository
    cannot be read.
    """
    if place.address is None:
        return _here(place, with_requests=with_requests)
    place.folder.parent.mkdir(parents=True, exist_ok=True)
    there = list_refs(
        place.address,
        folder=place.folder.parent,
        with_requests=with_requests,
        is_cancelled=is_cancelled,
    )
    make_mirror(place.folder, there)
    here = _here(place, with_requests=with_requests)
    if here.tips != there.tips:
        fetch(place.folder, place.address, with_requests=with_requests, is_cancelled=is_cancelled)
        here = _here(place, with_requests=with_requests)
    return Refs(tips=here.tips, default=there.default)


def _here(place: Place, *, with_requests: bool) -> Refs:
    with open_history(place.folder) as history:
        return read_refs(history, with_requests=with_requests)
