"""From what is known of one asset to its entry in the report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reviewbot.checks.finding import Finding
from reviewbot.compare.change import Change
from reviewbot.compare.comparison import Comparison, PartMatch
from reviewbot.errors import MeshReadError
from reviewbot.measure.examine import Examination
from reviewbot.measure.summary import asset_measures, part_measures
from reviewbot.measure.summary_sight import placed_measures, standing_measures
from reviewbot.mesh import Note
from reviewbot.render.differences import ViewDifference
from reviewbot.render.picture import Picture
from reviewbot.report.distributions import distributions
from reviewbot.report.picture_entries import picture_entry
from reviewbot.report.record import Measures
from reviewbot.report.report import (
    AssetEntry,
    ChangeEntry,
    FindingEntry,
    PartEntry,
    SolidEntry,
    State,
    ViewEntry,
)
from reviewbot.report.solid import Solid
from reviewbot.report.summary import asset_summary
from reviewbot.report.verdict import asset_verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A finding or change with the reason why it is accepted, or None."""

    what: Finding | Change
    accepted: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AssetFacts:
    """All that is known of one asset once it has been looked at.

    before, after     None where there is no such version
    mended            why the version before could not be read, where only the one after can be
    comparison        None where a version is missing
    differences       of the views, empty where no pictures were taken
    units_per_pixel   of the views
    size              of the asset, in units
    pictures, solids  with the file each is kept in
    """

    path: str
    before_path: str | None
    before: Examination | None
    after: Examination | None
    mended: MeshReadError | None
    comparison: Comparison | None
    changes: tuple[Judged, ...]
    findings: tuple[Judged, ...]
    differences: tuple[ViewDifference, ...] = ()
    units_per_pixel: float = 0.0
    size: float = 0.0
    pictures: tuple[tuple[str, Picture], ...] = ()
    solids: tuple[tuple[str | None, Solid], ...] = ()


def asset_entry(facts: AssetFacts) -> AssetEntry:
    """The entry of an asset that could be read."""
    changes = tuple(_change_entry(one) for one in facts.changes)
    findings = tuple(_finding_entry(one) for one in facts.findings)
    if facts.mended is not None:
        findings += (_mended_finding(facts.mended),)
    state = _state(facts)
    unaccepted = [change.code for change in changes if change.accepted is None]
    return AssetEntry(
        path=facts.path,
        before_path=facts.before_path,
        state=state,
        verdict=asset_verdict(findings, unaccepted),
        summary=asset_summary(
            state,
            [one.what for one in facts.changes if isinstance(one.what, Change)],
            findings,
            mended=facts.mended is not None,
            all_parts=len(facts.after.parts) if facts.after is not None else 0,
        ),
        changes=changes,
        findings=findings,
        parts=_part_entries(facts),
        before=_asset_measures(facts.before),
        after=_asset_measures(facts.after),
        views=tuple(_view_entry(one, facts) for one in facts.differences),
        pictures=tuple(picture_entry(file, picture) for file, picture in facts.pictures),
        solids=tuple(_solid_entry(file, solid) for file, solid in facts.solids),
        distributions=distributions(facts.before, facts.after),
        notes=() if facts.after is None else _notes(facts.after),
    )


def unreadable_entry(
    path: str, before_path: str | None, error: MeshReadError, *, was_unreadable: bool
) -> AssetEntry:
    """The entry of a file that is no mesh this tool can read: one finding, with the line.

    was_unreadable  the version before could not be read either
    """
    finding = FindingEntry(
        code="unreadable",
        severity="stop",
        part="",
        standing="same" if was_unreadable else "new",
        message=f"The file cannot be read{_where(error)}: {error.reason}",
    )
    return AssetEntry(
        path=path,
        before_path=before_path,
        state="unreadable",
        verdict="stop",
        summary=finding.message,
        findings=(finding,),
    )


def _where(error: MeshReadError) -> str:
    return "" if error.line is None else f" in line {error.line}"


def _mended_finding(error: MeshReadError) -> FindingEntry:
    return FindingEntry(
        code="unreadable",
        severity="stop",
        part="",
        standing="fixed",
        message=f"The version before could not be read{_where(error)}: {error.reason}",
    )


def _state(facts: AssetFacts) -> State:
    if facts.after is None:
        return "removed"
    if facts.mended is not None:
        return "changed"
    if facts.before is None:
        return "added"
    return "changed" if facts.changes else "same"


def _change_entry(judged: Judged) -> ChangeEntry:
    change = judged.what
    assert isinstance(change, Change)
    return ChangeEntry(
        code=change.code,
        part=change.part,
        message=change.message,
        value=change.value,
        unit=change.unit,
        at=change.at,
        accepted=judged.accepted,
    )


def _finding_entry(judged: Judged) -> FindingEntry:
    finding = judged.what
    assert isinstance(finding, Finding)
    return FindingEntry(
        code=finding.code,
        severity=finding.severity,
        part=finding.part,
        standing=finding.standing,
        count=finding.count,
        value=finding.value,
        limit=finding.limit,
        unit=finding.unit,
        at=finding.at,
        message=finding.message,
        accepted=judged.accepted,
    )


def _part_entries(facts: AssetFacts) -> tuple[PartEntry, ...]:
    return tuple(_part_entry(match, facts) for match in _matches(facts))


def _matches(facts: AssetFacts) -> Sequence[PartMatch]:
    if facts.comparison is not None:
        return facts.comparison.matches
    if facts.after is not None:
        rows: Iterable[int] = range(len(facts.after.parts))
        return [PartMatch(before=None, after=k, form="added", unwrap="none") for k in rows]
    rows = range(len(facts.before.parts)) if facts.before is not None else ()
    return [PartMatch(before=k, after=None, form="removed", unwrap="none") for k in rows]


def _part_entry(match: PartMatch, facts: AssetFacts) -> PartEntry:
    old, new = facts.before, facts.after
    return PartEntry(
        name=None if new is None or match.after is None else new.parts[match.after].part.name,
        before_name=(
            None if old is None or match.before is None else old.parts[match.before].part.name
        ),
        form=match.form,
        unwrap=match.unwrap,
        before=_part_measures(old, match.before),
        after=_part_measures(new, match.after),
    )


def _part_measures(examination: Examination | None, row: int | None) -> Measures | None:
    if examination is None or row is None:
        return None
    return {**part_measures(examination.parts[row]), **placed_measures(examination, row)}


def _asset_measures(examination: Examination | None) -> Measures | None:
    if examination is None:
        return None
    return {**asset_measures(examination), **standing_measures(examination)}


def _view_entry(difference: ViewDifference, facts: AssetFacts) -> ViewEntry:
    moved = difference.outline_pixels * facts.units_per_pixel
    return ViewEntry(
        name=difference.name,
        ssim=difference.ssim,
        ssim_worst=difference.ssim_worst,
        flip=difference.flip,
        flip_worst=difference.flip_worst,
        silhouette_iou=difference.silhouette_iou,
        outline_pixels=difference.outline_pixels,
        outline_share=moved / facts.size if facts.size else None,
    )


def _solid_entry(file: str | None, solid: Solid) -> SolidEntry:
    return SolidEntry(version=solid.version, file=file, triangles=solid.triangles, up=solid.up)


def _notes(after: Examination) -> tuple[str, ...]:
    return (*map(_note_text, after.model.notes), *after.textures.notes)


def _note_text(note: Note) -> str:
    return note.reason if note.line is None else f"line {note.line}: {note.reason}"
