"""How long findings stood, from made-up versions whose answers are plain."""

from __future__ import annotations

from reviewbot.report.report import AssetEntry, FindingEntry, PartEntry
from reviewbot.snapshot.ages import Step, Tracked, track_findings


def found(
    standing: str, code: str = "ngon", part: str = "box", at: tuple[float, float, float] = (0, 0, 0)
) -> FindingEntry:
    return FindingEntry(
        code=code, severity="look", part=part, standing=standing, at=at, message="m"
    )


def version(*findings: FindingEntry, renamed: tuple[str, str] | None = None) -> AssetEntry:
    parts = ()
    if renamed:
        old, new = renamed
        parts = (
            PartEntry(name=new, before_name=old, form="same", unwrap="same", before={}, after={}),
        )
    return AssetEntry(
        path="a.obj", before_path="a.obj", state="changed", verdict="look", summary="s",
        findings=findings, parts=parts,
    )  # fmt: skip


def unreadable(standing: str) -> AssetEntry:
    finding = FindingEntry(
        code="unreadable", severity="stop", part="", standing=standing, message="m"
    )
    return AssetEntry(
        path="a.obj", before_path="a.obj", state="unreadable", verdict="stop", summary="s",
        findings=(finding,),
    )  # fmt: skip


def tracked(*entries: AssetEntry | None) -> list[Tracked]:
    return track_findings([Step(place=at, entry=entry) for at, entry in enumerate(entries)])


def times(*entries: AssetEntry | None) -> list[tuple[str, int | None, int | None]]:
    return [(one.finding.code, one.born, one.ended) for one in tracked(*entries)]


def test_nothing_is_tracked_where_nothing_is_found() -> None:
    assert times(version(), version()) == []
    assert times() == []


def test_what_stood_before_has_no_beginning() -> None:
    assert times(version(found("same"))) == [("ngon", None, None)]
    assert times(version(found("worse")), version(found("better"))) == [("ngon", None, None)]


def test_it_comes_and_it_goes() -> None:
    came_and_went = (version(found("new")), version(found("same")), version(found("fixed")))
    assert times(*came_and_went) == [("ngon", 0, 2)]
    assert times(version(found("fixed"))) == [("ngon", None, 0)]
    assert times(version(found("same")), version(found("fixed"))) == [("ngon", None, 1)]


def test_it_comes_twice() -> None:
    again = (version(found("new")), version(found("fixed")), version(found("new")))
    assert times(*again) == [("ngon", 0, 1), ("ngon", 2, None)]


def test_of_two_alike_the_nearest_is_the_same() -> None:
    here, there = (0.0, 0.0, 0.0), (9.0, 0.0, 0.0)
    (first, second) = tracked(
        version(found("new", at=here)),
        version(found("same", at=here), found("new", at=there)),
        version(found("same", at=there), found("fixed", at=here)),
    )
    assert (first.finding.at, first.born, first.ended) == (here, 0, 2)
    assert (second.finding.at, second.born, second.ended) == (there, 1, None)


def test_a_part_s_new_name_makes_no_new_finding() -> None:
    renamed = version(found("same", part="lid"), renamed=("box", "lid"))
    (one,) = tracked(version(found("new", part="box")), renamed)
    assert (one.finding.part, one.born, one.ended) == ("lid", 0, None)


def test_a_removed_file_takes_its_findings_along_and_brings_them_back() -> None:
    (gone,) = tracked(version(found("new")), None)
    assert (gone.ended, gone.is_gone) == (1, True)
    (back,) = tracked(version(found("new")), None, version(found("same")))
    assert (back.born, back.ended, back.is_gone) == (0, None, False)
    (mended,) = tracked(version(found("new")), None, version(found("fixed")))
    assert (mended.ended, mended.is_gone) == (2, False)


def test_an_unreadable_file_hides_findings_and_ends_none() -> None:
    mended = FindingEntry(
        code="unreadable", severity="stop", part="", standing="fixed", message="m"
    )
    steps = (version(found("new")), unreadable("new"), version(found("new"), mended))
    assert times(*steps) == [("ngon", 0, None), ("unreadable", 1, 2)]
    assert times(unreadable("same"), unreadable("same")) == [("unreadable", None, None)]
