from report.sample import lantern_report, picture

from reviewbot.report.page import to_html
from reviewbot.report.pictures import comment_pictures, comment_rows, gallery, shown_size, spots_of

LANTERN = lantern_report().assets[0]


def test_each_picture_has_one_place():
    sorted_out = gallery(LANTERN.pictures)
    (sides,) = sorted_out.sides
    assert (sides.stem, sides.view) == ("view", "front")
    assert sides.before.kind == "view-before"
    assert sides.after.kind == "view-after"
    assert sides.difference.kind == "view-difference"
    assert [entry.kind for entry in sorted_out.frames] == ["turntable-frames"]
    assert [entry.kind for entry in sorted_out.sheets] == ["uv-sheet-before", "uv-sheet-after"]
    assert [entry.kind for entry in sorted_out.others] == ["strip", "silhouette"]
    assert len(sorted_out.spots) == 2


def test_a_side_may_lack():
    (sides,) = gallery([picture("view-after", "a.png", "A new file.", view="front")]).sides
    assert sides.before is None
    assert sides.after is not None


def test_spots_stand_beside_their_finding():
    spots = gallery(LANTERN.pictures).spots
    found = {f.code: len(spots_of(f, spots)) for f in LANTERN.findings}
    assert found["uv-missing"] == 1
    assert found["tile-wasted"] == 0


def test_a_comment_gets_an_overview_and_the_new_spots():
    chosen = comment_pictures(LANTERN)
    assert [entry.kind for entry in chosen] == ["strip", "spot", "spot", "silhouette"]
    rows = [[entry.kind for entry in row] for _, row in comment_rows(LANTERN)]
    assert rows == [["strip"], ["spot", "spot", "silhouette"]]


def test_what_moves_is_linked_on_the_page_and_shown_in_a_comment():
    moving = picture("strip", "pictures/turn.webp", "Turning.").model_copy(
        update={"kind": "turntable"}
    )
    asset = LANTERN.model_copy(update={"pictures": (moving,)})
    assert gallery(asset.pictures).moving == (moving,)
    assert comment_pictures(asset) == [moving]
    report = lantern_report().model_copy(update={"assets": (asset,)})
    page = to_html(report, {moving.file: b"RIFF0000WEBP"})
    assert 'href="./pictures/turn.webp"' in page
    assert "data:image/webp" not in page


def test_laid_out_pictures_are_shown_at_half_their_size():
    by_kind = {entry.kind: shown_size(entry)[0] / entry.width for entry in LANTERN.pictures}
    assert by_kind["strip"] == by_kind["spot"] == by_kind["silhouette"] == 0.5
    assert by_kind["view-before"] == by_kind["turntable-frames"] == 1
