"""report.xml: no published standard; its structure is common practice, no source."""

from __future__ import annotations

import xml.etree.ElementTree as Tree

import pytest
from hypothesis import given, settings
from report.sample import HOSTILE_NAMES, hostile_report, lantern_report, quiet_report
from report.strategies import reports

from reviewbot.report.junit import to_junit


def _check_structure(text: str) -> Tree.Element:
    suites = Tree.fromstring(text)
    assert suites.tag == "testsuites"
    for suite in suites:
        assert suite.tag == "testsuite"
        assert suite.get("name")
        cases = suite.findall("testcase")
        assert len(cases) == len(suite) >= 1
        assert int(suite.get("tests")) == len(cases)
        for attribute, tag in (("failures", "failure"), ("errors", "error")):
            assert int(suite.get(attribute)) == sum(case.find(tag) is not None for case in cases)
        for case in cases:
            assert case.get("name")
            assert case.get("classname") == suite.get("name")
            assert [child.tag for child in case] in (
                [],
                ["failure"],
                ["error"],
                ["skipped"],
                ["system-out"],
            )
    assert int(suites.get("tests")) == sum(int(suite.get("tests")) for suite in suites)
    return suites


def test_findings_at_the_gate_fail_and_the_rest_is_told():
    suites = _check_structure(to_junit(lantern_report()))
    outcome = {
        case.get("name"): case[0].tag if len(case) else "passed" for case in suites.iter("testcase")
    }
    assert outcome["uv-missing: handle"] == "failure"
    assert outcome["ngon: cap"] == "system-out"
    assert outcome["unreadable: whole asset"] == "error"
    assert outcome["uv-overlap: rivets"] == "skipped"
    assert outcome["no finding"] == "passed"
    assert "loose-vertex: glass" not in outcome
    assert (suites.get("failures"), suites.get("errors"), suites.get("skipped")) == ("1", "1", "1")


@pytest.mark.parametrize(
    ("gate", "failures"), [("never", 0), ("stop", 1), ("look", 6), ("note", 9)]
)
def test_the_gate_decides_what_fails(gate, failures):
    report = lantern_report().model_copy(update={"fail_on": gate})
    suites = Tree.fromstring(to_junit(report))
    assert int(suites.get("failures")) == failures


def test_a_quiet_report_passes():
    suites = _check_structure(to_junit(quiet_report()))
    assert (suites.get("tests"), suites.get("failures")) == ("4", "0")


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_hostile_names_keep_the_file_well_formed(name):
    _check_structure(to_junit(hostile_report(name)))


@settings(max_examples=40, deadline=None)
@given(reports)
def test_any_report_is_well_formed(report):
    _check_structure(to_junit(report))
