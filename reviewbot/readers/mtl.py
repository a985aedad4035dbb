"""Material files of OBJ: names and base colour pictures."""

from __future__ import annotations

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
_UP_TO_THREE = frozenset({"-o", "-s", "-t"})


def read_mtl(data: bytes) -> tuple[Material, ...]:
    """Materials in order; statements before the first newmtl and unknown ones say nothing here."""
    pictures: dict[str, str | None] = {}
    current = None
    for line in data.replace(b"\r", b"\n").split(b"\n"):
        keyword, _, rest = line.strip().replace(b"\t", b" ").partition(b" ")
        if keyword == b"newmtl":
            current = printable_name(rest)
            pictures.setdefault(current, None)
        elif keyword.lower() == b"map_kd" and current is not None:
            pictures[current] = _picture_file(printable_name(rest))
    return tuple(Material(name=n, base_colour_file=file) for n, file in pictures.items())


def _picture_file(statement: str) -> str | None:
    """The file name behind the options; it may hold blanks."""
    words = statement.split()
    while words and words[0] in _OPTION_VALUES.keys() | _UP_TO_THREE:
        option = words.pop(0)
        if option in _OPTION_VALUES:
            del words[: _OPTION_VALUES[option]]
            continue
        for _ in range(3):
            if len(words) > 1 and _is_number(words[0]):
                del words[0]
    return " ".join(words) or None


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True
