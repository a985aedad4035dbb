"""The base colour pictures of a model: looked up where the file says, and decoded to be shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from reviewbot.errors import MeshReadError, RevisionError
from reviewbot.mesh import FloatArray, Material, Model, Part
from reviewbot.readers.pictures import PictureRefusedError, Pixels
from reviewbot.readers.references import ReferenceRefusedError, Siblings, relative_path

Tile = tuple[int, int]
Decode = Callable[[bytes, int], Pixels]
"""From an encoded picture and the longest side wanted to pixels; raises PictureRefusedError."""

TILE_MARK = "<UDIM>"  # stands for the number of a tile (OpenUSD, UsdUVTexture)
MOST_TILES = 64  # of one material; more are not looked for
# Sides of the pixels kept, by how many pictures there are: a view shows few of them at once.
_LONGEST = ((4, 1024), (16, 512), (64, 256), (1 << 30, 128))


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingPicture:
    """A picture that a used material asks for and that is not there.

    file      as the material names it
    named_in  the file that names it, "" for the mesh's own
    why       how it cannot be found, in words: "is not in the repository at this commit"
    parts     names of the parts whose faces ask for it
    """

    file: str
    named_in: str
    material: str
    why: str
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Textures:
    """Base colour pictures of a model.

    pixels   (H, W, 3) uint8 each, the first row at the top; empty where none were decoded
    of       the picture of a material, by its name and a tile, or None where it has one picture,
             repeated over all tiles
    missing  pictures that are not there
    notes    pictures that are there and cannot be shown, with the reason
    """

    pixels: tuple[Pixels, ...] = ()
    of: Mapping[tuple[str, Tile | None], int] = field(default_factory=lambda: MappingProxyType({}))
    missing: tuple[MissingPicture, ...] = ()
    notes: tuple[str, ...] = ()


NO_TEXTURES = Textures()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """One picture to be looked for: which material and tile it is for, and what it is called."""

    material: Material
    tile: Tile | None
    file: str
    parts: tuple[str, ...]


def textures_of(model: Model, pictures: Siblings, *, place: str, decode: Decode | None) -> Textures:
    """What the materials on the model's faces ask for.

    pictures  from a path relative to the mesh's folder, which may lead upwards, to bytes
    place     where they are looked for: "in the repository at this commit"
    decode    None where pictures are only looked for, not to be shown
    """
    missing: list[MissingPicture] = []
    notes: list[str] = []
    found: list[tuple[_Wanted, bytes]] = []
    for wanted in _wanted(model):
        try:
            data = _data(wanted, pictures, loosely=model.format == "fbx")
        except MeshReadError as error:
            notes.append(f"the picture '{wanted.file}' is not shown: it {error.reason}")
            continue
        except RevisionError as error:  # a clone without the picture's bytes
            notes.append(f"the picture '{wanted.file}' is not shown: {error}")
            continue
        except ReferenceRefusedError as error:
            missing.append(_missing(wanted, str(error)))
            continue
        if data is None:
            missing.append(_missing(wanted, f"is not {place}"))
        elif wanted.material.is_laid_plainly:
            found.append((wanted, data))
        else:
            why = "it is laid on otherwise than by the first UV set"
            notes.append(f"the picture '{wanted.file}' is not shown: {why}")
    pixels, of = _decoded(found, decode, notes)
    return Textures(
        pixels=pixels,
        of=of,
        missing=tuple(missing),
        notes=tuple(dict.fromkeys(notes)),
    )


def _missing(wanted: _Wanted, why: str) -> MissingPicture:
    return MissingPicture(
        file=wanted.file,
        named_in=wanted.material.named_in,
        material=wanted.material.name,
        why=why,
        parts=wanted.parts,
    )


def _wanted(model: Model) -> Iterator[_Wanted]:
    """The pictures of materials that lie on faces, in the materials' order."""
    for material in model.materials:
        users = [part for part in model.parts if _uses(part, material.name)]
        file = material.base_colour_file or ""
        if not users or not (file or material.base_colour_data):
            continue
        parts = tuple(dict.fromkeys(part.name for part in users))
        if TILE_MARK not in file or material.base_colour_data:
            yield _Wanted(material=material, tile=None, file=file, parts=parts)
            continue
        for column, row in _tiles(users, material.name)[:MOST_TILES]:
            named = file.replace(TILE_MARK, str(1001 + column + 10 * row))
            yield _Wanted(material=material, tile=(column, row), file=named, parts=parts)


def _uses(part: Part, material: str) -> bool:
    if material not in part.materials:
        return False
    return bool((part.face_material == part.materials.index(material)).any())


def _tiles(parts: Sequence[Part], material: str) -> list[Tile]:
    """Tiles with a number, from 1001 on, that faces of a material lie on, the lowest first."""
    tiles: set[Tile] = set()
    for part in parts:
        mine = part.face_material == part.materials.index(material)
        place = np.floor(_middles(part)[mine])
        place = place[(place >= 0).all(axis=1) & (place[:, 0] <= 9) & (place[:, 1] < 99)]
        tiles.update((int(u), int(v)) for u, v in np.unique(place, axis=0))
    return sorted(tiles, key=lambda tile: (tile[1], tile[0]))


def _middles(part: Part) -> FloatArray:
    """(F, 2) mean of each face's UVs; nan where it lacks one."""
    place = np.append(part.uvs, [[np.nan, np.nan]], axis=0)[part.corner_uv]
    sizes = np.diff(part.face_start)
    owner = np.repeat(np.arange(part.face_count), sizes)
    sums = [np.bincount(owner, weights=place[:, k], minlength=part.face_count) for k in (0, 1)]
    return np.asarray(np.stack(sums, axis=1) / np.maximum(sizes, 1)[:, None])


def _data(wanted: _Wanted, pictures: Siblings, *, loosely: bool) -> bytes | None:
    """The encoded picture, None where none is there.

    loosely  a bare name beside the mesh will do: FBX mostly names a place on the artist's machine,
             and importers look beside the file (common practice, no source)

    Raises ReferenceRefusedError, and MeshReadError as `pictures` does.
    """
    if wanted.material.base_colour_data is not None:
        return wanted.material.base_colour_data
    if not loosely:
        return pictures(relative_path(wanted.file))
    try:
        data = pictures(relative_path(wanted.file))
    except (ReferenceRefusedError, MeshReadError):
        data = None
    name = wanted.file.replace("\\", "/").rpartition("/")[2]
    return data if data is not None else pictures(relative_path(name))


def _decoded(
    found: Sequence[tuple[_Wanted, bytes]], decode: Decode | None, notes: list[str]
) -> tuple[tuple[Pixels, ...], dict[tuple[str, Tile | None], int]]:
    """Each picture once, and which of them is whose."""
    if decode is None:
        return (), {}
    known: dict[bytes, int | None] = {}
    pixels: list[Pixels] = []
    of: dict[tuple[str, Tile | None], int] = {}
    longest = next(side for most, side in _LONGEST if len(found) <= most)
    for wanted, data in found:
        if data not in known:
            known[data] = len(pixels)
            try:
                pixels.append(decode(data, longest))
            except PictureRefusedError as error:
                known[data] = None
                name = f"picture '{wanted.file}'" if wanted.file else "picture inside the file"
                notes.append(f"the {name} is not shown: it {error}")
        number = known[data]
        if number is not None:
            of[wanted.material.name, wanted.tile] = number
    return tuple(pixels), of
