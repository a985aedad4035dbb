"""From pieces to parts: every shell of a prop goes into one tile of texture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reviewbot.demo.packing import pack
from reviewbot.demo.shapes import Piece
from reviewbot.geometry.exact import exact_places
from reviewbot.mesh import FloatArray, Part


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPiece:
    """A part of a prop before its UVs are packed.

    density  texture wanted per metre, against 1 for what is neither hero nor hidden
    """

    name: str
    material: str
    piece: Piece
    density: float = 1.0


def bare_parts(pieces: Sequence[NamedPiece], *, suffix: str) -> tuple[Part, ...]:
    """The parts without UVs, each name with the suffix."""
    return tuple(_part(named, suffix, None) for named in pieces)


def unwrapped_parts(pieces: Sequence[NamedPiece], *, suffix: str, gap: float) -> tuple[Part, ...]:
    """The parts with all their shells packed side by side into the tile from 0 to 1.

    gap  between two shells and to the tile's border, in tiles
    """
    flats = [named.piece.flat * named.density for named in pieces]
    lows, sizes = zip(
        *(_boxes(n.piece, f) for n, f in zip(pieces, flats, strict=True)), strict=True
    )
    scale, corners, is_turned = pack(np.concatenate(sizes), gap=gap)
    parts = []
    first = 0
    for named, flat, low, size in zip(pieces, flats, lows, sizes, strict=True):
        own = slice(first, first + len(low))
        shell = named.piece.shell
        local = flat - low[shell][:, None]
        quarter = np.stack([local[..., 1], size[shell][:, None, 0] - local[..., 0]], axis=-1)
        local = np.where(is_turned[own][shell][:, None, None], quarter, local)
        parts.append(_part(named, suffix, corners[own][shell][:, None] + scale * local))
        first += len(low)
    return tuple(parts)


def _boxes(piece: Piece, flat: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(S, 2) lower left corner and (S, 2) size of each shell."""
    low = np.full((piece.shell_count, 2), np.inf)
    high = -low
    np.minimum.at(low, piece.shell, flat.min(axis=1))
    np.maximum.at(high, piece.shell, flat.max(axis=1))
    return low, high - low


def _part(named: NamedPiece, suffix: str, corner_uvs: FloatArray | None) -> Part:
    quads = named.piece.quads
    uvs, corner_uv = np.empty((0, 2)), np.full(quads.size, -1)
    if corner_uvs is not None:
        rows = np.round(corner_uvs.reshape(-1, 2), 6)
        place, first = exact_places(rows)
        rank = np.argsort(np.argsort(first))
        uvs, corner_uv = rows[np.sort(first)], rank[place]
    return Part(
        name=named.name + suffix,
        points=np.round(named.piece.points, 6),
        corner_point=quads.reshape(-1),
        face_start=np.arange(0, quads.size + 1, 4, dtype=np.int32),
        uvs=uvs,
        corner_uv=corner_uv,
        materials=(named.material,),
        face_material=np.zeros(len(quads), dtype=np.int32),
        face_smoothing=np.ones(len(quads), dtype=np.int32),
    )
