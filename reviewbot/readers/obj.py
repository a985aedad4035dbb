"""Wavefront OBJ: polygons, UVs and normals by corner, names, materials, smoothing groups.

Source: "Object Files (.obj)", appendix B1 of the Advanced Visualizer manual, Wavefront
Technologies. A part is what carries an object's name (o) where two or more such names hold
faces, else what carries a group's name (g), else the whole file. A name taken up again goes on
with its part; a face in several groups at once belongs to a part named after all of them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath

import numpy as np

from reviewbot.errors import MeshReadError
from reviewbot.mesh import IndexArray, Material, Model, Note
from reviewbot.readers.cut import Shared, cut_parts
from reviewbot.readers.mtl import read_mtl
from reviewbot.readers.names import printable_name
from reviewbot.readers.obj_lines import Statement
from reviewbot.readers.obj_records import ObjRecords, read_records
from reviewbot.readers.obj_text import ObjText, obj_text
from reviewbot.readers.references import ReferenceRefusedError, Siblings, fetch, no_siblings

UNNAMED = 0
DEFAULT_GROUP = "default"
_FREE_FORM = (
    "vp cstype deg bmat step curv curv2 surf parm trim hole scrv sp end con bsp bzp cdc cdp res"
)
_DISPLAY = "bevel c_interp d_interp lod shadow_obj trace_obj ctech stech maplib usemap mg"
_PASSED_OVER = {
    "p": "point elements (p)",
    "l": "line elements (l)",
    "call": "other files (call)",
    "csh": "commands (csh), which are never run,",
    **dict.fromkeys(_FREE_FORM.split(), "free-form curves and surfaces"),
    **dict.fromkeys(_DISPLAY.split(), "display settings"),
}
_MOST_NOTES = 50
_LONGEST_SMOOTHING = 20


@dataclass(slots=True, kw_only=True)
class _Track:
    """A state set by statements: its values, and from which face and point on each holds."""

    values: list[int] = field(default_factory=lambda: [UNNAMED])
    faces: list[int] = field(default_factory=lambda: [0])
    points: list[int] = field(default_factory=lambda: [0])

    def change(self, statement: Statement, value: int) -> None:
        self.values.append(value)
        self.faces.append(statement.faces)
        self.points.append(statement.points)

    def values_with_faces(self, count: int) -> set[int]:
        ends = [*self.faces[1:], count]
        return {
            v for v, start, end in zip(self.values, self.faces, ends, strict=True) if end > start
        }

    def per_face(self, count: int) -> IndexArray:
        return np.repeat(np.array(self.values, dtype=np.int32), np.diff([*self.faces, count]))

    def per_point(self, count: int) -> IndexArray:
        return np.repeat(np.array(self.values, dtype=np.int32), np.diff([*self.points, count]))

    def per_loose_point(self, count: int) -> IndexArray:
        """(V,) the value at each point; where that is UNNAMED, the next name in the file.

        Points often stand before the name of the part they are for.
        """
        values = np.array(self.values, dtype=np.int32)
        named = np.flatnonzero(values != UNNAMED)
        if len(named):
            following = np.searchsorted(named, np.arange(len(values)))
            values = values[named[np.minimum(following, len(named) - 1)]]
        return np.repeat(values, np.diff([*self.points, count]))


@dataclass(slots=True, kw_only=True)
class _Named(_Track):
    """A track whose values are names; `keys` tells which spellings are the same name."""

    names: list[str] = field(default_factory=lambda: [""])
    keys: dict[object, int] = field(default_factory=lambda: {"": UNNAMED})
    first_named: int = 0

    def set_name(self, statement: Statement, name: str, key: object) -> None:
        number = self.keys.setdefault(key, len(self.names))
        if number == len(self.names) == 1:
            self.first_named = statement.offset
        if number == len(self.names):
            self.names.append(name)
        self.change(statement, number)


@dataclass(slots=True, kw_only=True)
class _Story:
    """What the statements of a file say, followed from top to bottom."""

    objects: _Named = field(default_factory=_Named)
    groups: _Named = field(default_factory=_Named)
    materials: _Named = field(default_factory=_Named)
    smoothing: _Track = field(default_factory=_Track)
    libraries: list[tuple[str, int]] = field(default_factory=list)
    passed_over: Counter[str] = field(default_factory=Counter)
    first_at: dict[str, int] = field(default_factory=dict)

    def pass_over(self, what: str, offset: int) -> None:
        self.passed_over[what] += 1
        self.first_at.setdefault(what, offset)


def read_obj(data: bytes, *, path: str, siblings: Siblings = no_siblings) -> Model:
    """A Wavefront OBJ file as a Model.

    Smoothing groups keep their number (taken as 32 bits), 0 for off. Raises MeshReadError with the
    line where a number is malformed, an index names nothing, a face has fewer than three corners,
    or a line begins with no keyword; and without one where the file holds no points.
    """
    text = obj_text(data, path=path)
    records = read_records(text)
    if not len(records.points):
        raise MeshReadError(path=path, line=None, reason="holds no points, so there is no mesh")
    story = _follow(records.statements)
    for what, offset in records.extras.items():
        story.pass_over(what, offset)
    names, face_part, point_part = _parting(story, records, PurePosixPath(path).stem)
    parts = cut_parts(_shared(story, records), names, face_part, point_part)
    materials, library_notes = _materials(story, text, siblings)
    notes = [*_notes(story, text), *library_notes]
    return Model(
        parts=parts,
        format="obj",
        notes=tuple(sorted(notes, key=lambda note: note.line or 0)),
        materials=materials,
    )


def _follow(statements: tuple[Statement, ...]) -> _Story:
    story = _Story()
    for statement in statements:
        if statement.keyword == "usemtl":
            name = printable_name(statement.rest)
            story.materials.set_name(statement, name, name)
        elif statement.keyword == "g":
            _set_group(story, statement)
        elif statement.keyword == "o":
            name = printable_name(statement.rest)
            story.objects.set_name(statement, name, name)
        elif statement.keyword == "s":
            _set_smoothing(story, statement)
        elif statement.keyword == "mtllib":
            story.libraries.append((printable_name(statement.rest), statement.offset))
        else:
            unknown = f"unknown statements '{statement.keyword[:40]}'"
            story.pass_over(_PASSED_OVER.get(statement.keyword, unknown), statement.offset)
    return story


def _set_group(story: _Story, statement: Statement) -> None:
    name = printable_name(statement.rest)
    if name in (DEFAULT_GROUP, "off"):  # some programs write "off" for no group, as for smoothing
        name = ""
    # A face in two groups is in both, in whichever order they are written.
    story.groups.set_name(statement, name, frozenset(name.split()) if name else "")


def _set_smoothing(story: _Story, statement: Statement) -> None:
    word = statement.rest.lower()
    if word in (b"off", b"on", b""):
        story.smoothing.change(statement, int(word == b"on"))
    elif word.isdigit() and len(word) <= _LONGEST_SMOOTHING:
        # Some programs write a set of 32 groups as bits; as int32 it is the same set.
        story.smoothing.change(statement, (int(word) + 2**31) % 2**32 - 2**31)
    else:
        story.pass_over("smoothing groups (s) that are no number", statement.offset)


def _parting(
    story: _Story, records: ObjRecords, stem: str
) -> tuple[list[str], IndexArray, IndexArray]:
    """Names of the parts, and the part of each face and of each point no face uses."""
    points, faces = len(records.points), len(records.face_start) - 1
    track, unnamed = _parting_track(story, faces, stem)
    face_part, point_part = track.per_face(faces), track.per_loose_point(points)
    if np.any(face_part == UNNAMED):
        point_part = track.per_point(points)
    names = [unnamed, *track.names[1:]]
    if unnamed in track.names:  # also spelled out somewhere: the same part
        spelled = track.names.index(unnamed)
        face_part = np.where(face_part == UNNAMED, np.int32(spelled), face_part)
        point_part = np.where(point_part == UNNAMED, np.int32(spelled), point_part)
    if np.all(face_part != UNNAMED) and np.all(point_part != UNNAMED):
        return names[1:], face_part - np.int32(1), point_part - np.int32(1)
    return names, face_part, point_part


def _parting_track(story: _Story, faces: int, stem: str) -> tuple[_Named, str]:
    """What parts follow, and the name of what stands under no name."""
    objects, groups = story.objects, story.groups
    grouped = groups.values_with_faces(faces) - {UNNAMED}
    if len(objects.values_with_faces(faces) - {UNNAMED}) >= 2:
        if grouped:
            story.pass_over("groups (g) inside objects (o)", groups.first_named)
        return objects, stem
    if grouped:
        if len(objects.names) > 1:
            story.pass_over("objects (o) around groups (g)", objects.first_named)
        return groups, DEFAULT_GROUP
    if len(objects.names) > 2:
        return objects, stem
    return _Named(), (objects.names[1:] or [stem])[0]


def _shared(story: _Story, records: ObjRecords) -> Shared:
    faces = len(records.face_start) - 1
    smoothing = story.smoothing
    return Shared(
        points=records.points,
        uvs=records.uvs,
        normals=records.normals,
        face_start=records.face_start,
        corner_point=records.corner_point,
        corner_uv=records.corner_uv,
        corner_normal=records.corner_normal,
        materials=tuple(story.materials.names[1:]),
        face_material=story.materials.per_face(faces) - np.int32(1),
        face_smoothing=smoothing.per_face(faces) if len(smoothing.values) > 1 else None,
    )


def _notes(story: _Story, text: ObjText) -> list[Note]:
    notes = []
    for what, count in list(story.passed_over.items())[:_MOST_NOTES]:
        times = f", {count} lines" if count > 1 else ""
        line = text.line_number(story.first_at[what])
        notes.append(Note(line=line, reason=f"{what} are passed over{times}"))
    if len(story.passed_over) > _MOST_NOTES:
        more = len(story.passed_over) - _MOST_NOTES
        notes.append(Note(line=None, reason=f"{more} more kinds of lines are passed over"))
    return notes


def _materials(
    story: _Story, text: ObjText, siblings: Siblings
) -> tuple[tuple[Material, ...], list[Note]]:
    """Materials the faces name, then further ones of the material files."""
    found: dict[str, Material] = {name: Material(name=name) for name in story.materials.names[1:]}
    notes = []
    for libraries, offset in story.libraries:
        for name, data in _library_files(libraries, siblings):
            if isinstance(data, str):
                reason = f"the material file '{name}' {data}"
                notes.append(Note(line=text.line_number(offset), reason=reason))
            else:
                found |= {m.name: replace(m, named_in=name) for m in read_mtl(data)}
    return tuple(found.values()), notes


def _library_files(libraries: str, siblings: Siblings) -> list[tuple[str, bytes | str]]:
    """Each named material file and its bytes, or why there are none.

    Several names stand between blanks, but one name may hold blanks itself.
    """
    whole = _file_or_reason(libraries, siblings)
    if isinstance(whole, bytes) or " " not in libraries:
        return [(libraries, whole)]
    return [(name, _file_or_reason(name, siblings)) for name in libraries.split()]


def _file_or_reason(name: str, siblings: Siblings) -> bytes | str:
    try:
        return fetch(name, siblings)
    except ReferenceRefusedError as error:
        return str(error)
