"""The same mesh written as OBJ in many harmless ways, and models compared by value."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from reviewbot.mesh import FloatArray, Model, Part

NUMBER_FORMS: dict[str, Callable[[float], str]] = {
    "shortest": repr,
    "exponent": lambda x: f"{x:.17e}",
    "long": lambda x: np.format_float_positional(x, unique=True, min_digits=20),
    "capital": lambda x: f"{x:.17E}",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Spelling:
    """One way to write OBJ; none of it changes what the file means."""

    number: str = "shortest"
    newline: str = "\n"
    relative: bool = False
    interleaved: bool = False
    uv_per_corner: bool = False
    blank: str = " "
    indent: str = ""
    comments: bool = False
    continued: bool = False
    byte_order_mark: bool = False
    last_newline: bool = True


SPELLINGS = st.builds(
    Spelling,
    number=st.sampled_from(sorted(NUMBER_FORMS)),
    newline=st.sampled_from(["\n", "\r\n", "\r"]),
    relative=st.booleans(),
    interleaved=st.booleans(),
    uv_per_corner=st.booleans(),
    blank=st.sampled_from([" ", "   ", "\t", " \t "]),
    indent=st.sampled_from(["", " ", "\t"]),
    comments=st.booleans(),
    continued=st.booleans(),
    byte_order_mark=st.booleans(),
    last_newline=st.booleans(),
)


def spelled(parts: Sequence[Part], spelling: Spelling, *, named_by: str = "o") -> bytes:
    """The parts as an OBJ file; `named_by` is "o" or "g"."""
    writer = _Writer(spelling)
    for part in parts:
        writer.write_part(part, named_by)
    text = spelling.newline.join(writer.lines) + spelling.newline * spelling.last_newline
    return b"\xef\xbb\xbf" * spelling.byte_order_mark + text.encode("utf-8")


class _Writer:
    def __init__(self, spelling: Spelling) -> None:
        self.spelling = spelling
        self.lines: list[str] = []
        self.counts = {"v": 0, "vt": 0, "vn": 0}
        if spelling.comments:
            self.lines += ["# a comment", "", "#", "  # another one, v 1 2 3"]

    def write_part(self, part: Part, named_by: str) -> None:
        self._line(named_by, part.name)
        if not self.spelling.interleaved:
            self._shared_tables(part)
        else:
            loose = np.setdiff1d(np.arange(len(part.points)), part.corner_point)
            for point in part.points[loose]:
                self._numbers("v", point)
        for face in range(part.face_count):
            self._state(part, face)
            corners = range(int(part.face_start[face]), int(part.face_start[face + 1]))
            if self.spelling.interleaved:
                self._own_tables(part, corners)
            self._line("f", *(self._corner(part, corner, corners) for corner in corners))

    def _shared_tables(self, part: Part) -> None:
        self.base = dict(self.counts)
        for point in part.points:
            self._numbers("v", point)
        uvs = part.uvs
        if self.spelling.uv_per_corner:
            uvs = part.uvs[part.corner_uv[part.corner_uv >= 0]]
        for uv in uvs:
            self._numbers("vt", uv)
        for normal in part.normals:
            self._numbers("vn", normal)

    def _own_tables(self, part: Part, corners: range) -> None:
        self.base = dict(self.counts)
        for corner in corners:
            self._numbers("v", part.points[part.corner_point[corner]])
            if part.corner_uv[corner] >= 0:
                self._numbers("vt", part.uvs[part.corner_uv[corner]])
            if part.corner_normal[corner] >= 0:
                self._numbers("vn", part.normals[part.corner_normal[corner]])

    def _corner(self, part: Part, corner: int, corners: range) -> str:
        first = corners.start
        point, uv, normal = (
            int(indices[corner])
            for indices in (part.corner_point, part.corner_uv, part.corner_normal)
        )
        if self.spelling.interleaved:
            point = corner - first
            uv = np.count_nonzero(part.corner_uv[first:corner] >= 0) if uv >= 0 else -1
            normal = np.count_nonzero(part.corner_normal[first:corner] >= 0) if normal >= 0 else -1
        elif self.spelling.uv_per_corner and uv >= 0:
            uv = np.count_nonzero(part.corner_uv[:corner] >= 0)
        words = [self._index("v", point)]
        if uv >= 0 or normal >= 0:
            words.append(self._index("vt", uv) if uv >= 0 else "")
        if normal >= 0:
            words.append(self._index("vn", normal))
        return "/".join(words)

    def _index(self, table: str, local: int) -> str:
        number = self.base[table] + local
        return str(number - self.counts[table] if self.spelling.relative else number + 1)

    def _state(self, part: Part, face: int) -> None:
        material = part.face_material[face]
        if material >= 0 and (not face or part.face_material[face - 1] != material):
            self._line("usemtl", part.materials[material])
        if part.face_smoothing is not None:
            self._line("s", str(part.face_smoothing[face]) if part.face_smoothing[face] else "off")

    def _numbers(self, keyword: str, values: FloatArray) -> None:
        self.counts[keyword] += 1
        self._line(keyword, *(NUMBER_FORMS[self.spelling.number](float(x)) for x in values))

    def _line(self, keyword: str, *words: str) -> None:
        blank = self.spelling.blank
        if self.spelling.continued and len(words) > 1:
            half = len(words) // 2
            head, tail = blank.join([keyword, *words[:half]]), blank.join(words[half:])
            self.lines += [f"{self.spelling.indent}{head} \\", f"{blank}{tail}"]
        else:
            self.lines.append(self.spelling.indent + blank.join([keyword, *words]))
        if self.spelling.comments:
            self.lines[-1] += f"{blank}# 1/2 {keyword} remark"


def part_values(part: Part) -> Iterator[tuple[str, object]]:
    """What a part means, with nothing of how its file is laid out."""
    used = np.unique(part.corner_point)
    loose = np.delete(part.points, used, axis=0) if len(used) else part.points
    yield "name", part.name
    yield "sizes", np.diff(part.face_start).tolist()
    yield "places", part.points[part.corner_point].tolist()
    yield "uvs", _values_or_none(part.uvs, part.corner_uv)
    yield "normals", _values_or_none(part.normals, part.corner_normal)
    yield "materials", [part.materials[k] if k >= 0 else None for k in part.face_material]
    yield "smoothing", None if part.face_smoothing is None else part.face_smoothing.tolist()
    yield "loose", sorted(loose.tolist())


def model_values(model: Model) -> list[dict[str, object]]:
    return [dict(part_values(part)) for part in model.parts]


def _values_or_none(table: FloatArray, indices: np.ndarray) -> list[list[float] | None]:
    return [table[k].tolist() if k >= 0 else None for k in indices]
