from report.sample import finding, lantern_report

from reviewbot.report.families import change_families, finding_families
from reviewbot.report.markdown import to_markdown
from reviewbot.report.report import ChangeEntry

UNWRAP = "This part has no UVs; unwrap it."


def test_the_same_thing_said_of_several_parts_is_one_family():
    findings = [finding("uv-missing", "look", "new", UNWRAP, part=part) for part in "abca"]
    (family,) = finding_families(findings)
    assert family.parts == ("a", "b", "c")
    assert list(family.entries) == findings


def test_another_severity_standing_message_or_reason_is_another_family():
    findings = [
        finding("uv-missing", "look", "new", UNWRAP, part="a"),
        finding("uv-missing", "stop", "new", UNWRAP, part="b"),
        finding("uv-missing", "look", "worse", UNWRAP, part="c"),
        finding("uv-missing", "look", "new", "Other.", part="d"),
        finding("uv-missing", "look", "new", UNWRAP, part="e", accepted="yes"),
    ]
    assert [len(family.entries) for family in finding_families(findings)] == [1] * 5


def test_a_part_is_named_only_where_the_message_does_not():
    said = ChangeEntry(code="uv-lost", part="handle", message="handle lost its UVs.")
    unsaid = ChangeEntry(code="uv-lost", part="cap", message="All UVs are lost.")
    whole = ChangeEntry(code="scale", part="", message="All is 100 times as large.")
    assert [f.parts for f in change_families([said, unsaid, whole])] == [(), ("cap",), ()]


def test_families_are_told_once_with_their_parts():
    text = to_markdown(lantern_report(), picture_url=str)
    table = text.split("###")[0]
    assert "and 1 more" in table
    many = [finding("uv-missing", "look", "new", UNWRAP, part=f"part_{n}") for n in range(9)]
    asset = lantern_report().assets[0].model_copy(update={"findings": tuple(many)})
    report = lantern_report().model_copy(update={"assets": (asset,)})
    told = "`part_0`, `part_1`, `part_2` and 6 more: This part has no UVs; unwrap it."
    assert to_markdown(report, picture_url=str).count(told) == 1
