"""Material files of OBJ: names and base colour pictures."""

from __future__ import annotations

from dataclasses import replace

from reviewbot.mesh import Material
from reviewbot.readers.names import printable_name

# Options of a picture statement and how many values follow each; "-o", "-s" and "-t" take one to
# three numbers. Wavefront's MTL description, from memory.
_OPTION_VALUES = {
    "-blendu": 1,
    "-blendv": 1,
    "-bm": 1,
    "-boost": 1,
    "-cc": 1,
    "-clamp": 1,
    "-imfchan": 1,
    "-mm": 2,
    "-texres": 1,
    "-type": 1,
}
# Shift, scale and unrest of the picture on the UVs: up to three numbers, and those that do nothing.
_UP_TO_THREE = {"-o": 0.0, "-s": 1.0, "-t": 0.0}


def read_mtl(data: bytes) -> tuple[Material, ...]:
    """Materials in order; statements before the first newmtl and unknown ones say nothing here."""
    found: dict[str, Material] = {}
    current = None
    for line in data.replace(b"\r", b"\n").split(b"\n"):
        keyword, _, rest = line.strip().replace(b"\t", b" ").partition(b" ")
        if keyword == b"newmtl":
            current = printable_name(rest)
            found.setdefault(current, Material(name=current))
        elif keyword.lower() == b"map_kd" and current is not None:
            found[current] = _with_picture(found[current], printable_name(rest))
    return tuple(found.values())


def _with_picture(material: Material, statement: str) -> Material:
    """The file name stands behind the options, and may hold blanks."""
    words, plainly = statement.split(), True
    while words and words[0] in _OPTION_VALUES.keys() | _UP_TO_THREE.keys():
        option = words.pop(0)
        if option in _OPTION_VALUES:
            del words[: _OPTION_VALUES[option]]
            continue
        for _ in range(3):
            if len(words) > 1 and (number := _number(words[0])) is not None:
                plainly &= number == _UP_TO_THREE[option]
                del words[0]
    file = " ".join(words) or None
    return replace(material, base_colour_file=file, is_laid_plainly=plainly)


def _number(word: str) -> float | None:
    try:
        return float(word)
    except ValueError:
        return None
