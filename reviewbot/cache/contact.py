"""Contact sheets, found again by what is on them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, fields

import numpy as np

from reviewbot.cache.disk import Cache
from reviewbot.cache.entry import Table
from reviewbot.cache.keys import program
from reviewbot.render.colours import Image
from reviewbot.render.picture import Picture
from reviewbot.report.report import AssetEntry

Make = Callable[[], Picture | None]


def kept_contact_picture(
    cache: Cache,
    assets: Sequence[AssetEntry],
    covers: Sequence[Image | None],
    *,
    title: str,
    make: Make,
) -> Picture | None:
    """The sheet of these assets as it was kept; made, and kept, where it was not."""
    key = _key(assets, covers, title)
    kept = cache.get(key)
    if kept is not None:
        picture = _unpacked(*kept)
        if picture is not None:
            return picture
        cache.drop(key, "is not understood")
    made = make()
    if made is not None:
        table = asdict(made)
        cache.put(key, {name: table[name] for name in table if name != "data"}, [made.data])
    return made


def _key(assets: Sequence[AssetEntry], covers: Sequence[Image | None], title: str) -> str:
    hashed = hashlib.sha256(json.dumps(["contact", program(), title]).encode())
    for asset, cover in zip(assets, covers, strict=True):
        hashed.update(repr((asset.path, asset.state, asset.verdict, asset.findings)).encode())
        hashed.update(b"\0" if cover is None else repr(cover.shape).encode())
        if cover is not None:
            hashed.update(np.ascontiguousarray(cover).data)
    return hashed.hexdigest()


def _unpacked(table: Table, blobs: list[bytes]) -> Picture | None:
    wanted = {field.name: field.type for field in fields(Picture) if field.name != "data"}
    kinds = {"int": int, "str": str}
    sound = table.keys() == wanted.keys() and all(
        isinstance(table[name], kinds[str(wanted[name])]) for name in wanted
    )
    return Picture(**table, data=blobs[0]) if sound and len(blobs) == 1 else None
