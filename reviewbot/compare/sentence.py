"""What happened, in one sentence that anybody understands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from reviewbot.compare.change import Change
from reviewbot.compare.wording import counted, figure, listed

SHOWN = 3  # things told; the rest is counted

# After "the whole asset" / "the handle": what is said of one subject, and of several.
_WORDS: dict[str, tuple[str, str]] = {
    "axes": ("was turned by right angles", "were turned by right angles"),
    "mirror": ("was mirrored", "were mirrored"),
    "offset": ("was shifted", "were shifted"),
    "part-added": ("is new", "are new"),
    "part-removed": ("is gone", "are gone"),
    "part-renamed": ("has another name", "have other names"),
    "parts-joined": ("was joined from several parts", "were joined from several parts"),
    "part-split": ("was split into several parts", "were split into several parts"),
    "part-moved": ("was moved", "were moved"),
    "reshaped": ("has another form", "have another form"),
    "triangulated": ("has faces cut into triangles", "have faces cut into triangles"),
    "subdivided": ("has subdivided faces", "have subdivided faces"),
    "faces-added": ("has new faces", "have new faces"),
    "faces-removed": ("lost faces", "lost faces"),
    "faces-merged": ("has merged faces", "have merged faces"),
    "retopologised": ("was laid out in new polygons", "were laid out in new polygons"),
    "winding-flipped": ("has faces turned inside out", "have faces turned inside out"),
    "unwelded": ("has split points", "have split points"),
    "welded": ("has newly welded points", "have newly welded points"),
    "normals-changed": ("has other normals", "have other normals"),
    "smoothing-changed": ("has other smoothing", "have other smoothing"),
    "material-changed": ("has another material", "have other materials"),
}
# The same for what is said of a subject's UVs.
_UV_WORDS: dict[str, str] = {
    "uv-lost": "UVs are gone",
    "uv-added": "UVs are new",
    "uv-flipped": "UVs are turned over",
    "uv-mirrored": "UVs are mirrored in places",
    "uv-moved": "UVs were laid elsewhere",
    "uv-tile-moved": "UVs moved to another tile",
    "seams-cut": "seams were cut",
    "seams-sewn": "seams were sewn",
    "uv-reshaped": "UVs have another form",
}


def change_sentence(changes: Sequence[Change], *, all_parts: int) -> str:
    """One sentence for a list of changes of any length.

    all_parts  how many parts the version after has: the rest is as it was only where there is one

    >>> change_sentence([], all_parts=3)
    'Nothing changed.'
    >>> change_sentence([Change(code="uv-lost", part="handle", message="")], all_parts=5)
    "The handle's UVs are gone; everything else is as it was."
    """
    if not changes:
        return "Nothing changed."
    by_code: dict[str, list[Change]] = defaultdict(list)
    for change in changes:
        by_code[change.code].append(change)
    clauses = [_clause(code, group, all_parts) for code, group in by_code.items()]
    told = clauses[:SHOWN]
    more = len(clauses) - len(told)
    sentence = told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"
    if more:
        sentence = f"{', '.join(told)}, and {counted(more, 'other kind')} of change"
        return f"{sentence[0].upper()}{sentence[1:]}."
    return f"{sentence[0].upper()}{sentence[1:]}; {_rest(changes, all_parts)}."


def _clause(code: str, changes: Sequence[Change], all_parts: int) -> str:
    names = list(dict.fromkeys(change.part for change in changes if change.part))
    whole = any(not change.part for change in changes)
    if code == "scale":
        return _scale_clause(changes[0])
    subject = "the whole asset" if whole else _subject(names, all_parts)
    if code in _UV_WORDS:
        return _uv_clause(subject, _UV_WORDS[code], several=len(names) > 1 and not whole)
    one, several = _WORDS.get(code, ("changed", "changed"))
    return f"{subject} {several if len(names) > 1 and not whole else one}"


def _uv_clause(subject: str, words: str, *, several: bool) -> str:
    noun, rest = words.split(" ", 1)
    return f"the {noun} of {subject} {rest}" if several else f"{subject}'s {noun} {rest}"


def _scale_clause(change: Change) -> str:
    factor = change.value or 1.0
    if factor >= 1:
        return f"the whole asset is {figure(factor)} times as large"
    return f"the whole asset is {figure(factor)} times its former size"


def _subject(names: Sequence[str], all_parts: int) -> str:
    if len(names) == all_parts and len(names) > SHOWN:
        return f"all {len(names)} parts"
    if len(names) > SHOWN:
        return f"{len(names)} parts"
    return listed([f"the {name}" for name in names])


def _rest(changes: Sequence[Change], all_parts: int) -> str:
    touched = {change.part for change in changes}
    if "" in touched and len(touched) == 1:
        return "nothing else changed"
    if len(touched - {""}) >= all_parts:
        return "nothing else changed"
    return "everything else is as it was"
