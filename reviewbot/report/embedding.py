"""Which pictures a page holds, and which lie beside it."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from reviewbot.report.pictures import MOVING, comment_pictures
from reviewbot.report.report import AssetEntry, PictureEntry

_SIGNATURES = (
    (re.compile(rb"\x89PNG\r\n\x1a\n"), "image/png"),
    (re.compile(rb"\xff\xd8\xff"), "image/jpeg"),
    (re.compile(rb"RIFF....WEBP", re.DOTALL), "image/webp"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Embedded:
    """The pictures of a page.

    addresses  data addresses by file name
    left_out   file names that lie beside the page only, for its size's sake
    missing    file names without a picture behind them, or with one that browsers are not shown
    held       bytes of all addresses
    limit      bytes they may have
    """

    addresses: Mapping[str, str]
    left_out: frozenset[str]
    missing: frozenset[str]
    held: int
    limit: int


def embed(
    overview: Sequence[PictureEntry],
    assets: Sequence[AssetEntry],
    pictures: Mapping[str, bytes],
    *,
    limit: int,
) -> Embedded:
    """Data addresses for as many pictures as `limit` bytes hold.

    The overview comes first, then each asset's most telling pictures, then the rest.
    """
    addresses: dict[str, str] = {}
    left_out: set[str] = set()
    missing: set[str] = set()
    held = 0
    for file in dict.fromkeys([*(one.file for one in overview), *_by_worth(assets)]):
        data = pictures.get(file)
        kind = media_type(data) if data is not None else None
        if data is None or kind is None:
            missing.add(file)
        elif held + _encoded_size(data) > limit:
            left_out.add(file)
        else:
            addresses[file] = f"data:{kind};base64,{base64.b64encode(data).decode()}"
            held += _encoded_size(data)
    return Embedded(
        addresses=addresses,
        left_out=frozenset(left_out),
        missing=frozenset(missing),
        held=held,
        limit=limit,
    )


def embed_solids(
    assets: Sequence[AssetEntry], files: Mapping[str, bytes], *, limit: int
) -> dict[str, str]:
    """The solids as base64 text by file name, whole assets only, as many as `limit` bytes hold."""
    texts: dict[str, str] = {}
    for asset in assets:
        found = {solid.file: files.get(solid.file or "", b"") for solid in asset.solids}
        need = sum(_encoded_size(data) for data in found.values())
        if found and need <= limit and all(_is_gzip(data) for data in found.values()):
            limit -= need
            texts |= {file or "": base64.b64encode(data).decode() for file, data in found.items()}
    return texts


def _is_gzip(data: bytes) -> bool:
    return data.startswith(b"\x1f\x8b")


def media_type(data: bytes) -> str | None:
    """PNG, JPEG or WebP by their first bytes; None for anything else."""
    return next((kind for pattern, kind in _SIGNATURES if pattern.match(data)), None)


def file_address(file: str) -> str:
    """A picture's file name as a relative address: a colon or leading slash means nothing in it."""
    return "./" + quote(file.lstrip("/"))


def _by_worth(assets: Sequence[AssetEntry]) -> Iterable[str]:
    for choose in (comment_pictures, lambda asset: asset.pictures):
        for asset in assets:
            yield from (picture.file for picture in choose(asset) if picture.kind != MOVING)


def _encoded_size(data: bytes) -> int:
    return 4 * ((len(data) + 2) // 3)
