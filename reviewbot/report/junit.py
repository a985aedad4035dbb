"""report.xml: the findings as JUnit XML, the form that test reporters of CI hosts read.

The form has no published standard: a suite a file, a case a finding, as common practice has it.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree import ElementTree as Tree

from reviewbot.report.names import names_in
from reviewbot.report.plain_text import plain_sentence, visible
from reviewbot.report.report import AssetEntry, FindingEntry, Report
from reviewbot.report.wording import value_and_limit
from reviewbot.settings import Severity

_RANK: dict[Severity | str, int] = {"note": 0, "look": 1, "stop": 2, "never": 3}


def to_junit(report: Report) -> str:
    """A suite a file. A finding at or above the gate fails, an unreadable file is an error, an
    accepted finding is skipped; one below the gate passes and is told in the case's output."""
    suites = Tree.Element("testsuites", name="reviewbot")
    for asset in report.assets:
        suites.append(_suite(asset, report))
    _count_up(suites, suites.iter("testcase"))
    Tree.indent(suites)
    return Tree.tostring(suites, encoding="unicode", xml_declaration=True) + "\n"


def _suite(asset: AssetEntry, report: Report) -> Tree.Element:
    suite = Tree.Element("testsuite", name=visible(asset.path))
    standing = [finding for finding in asset.findings if finding.standing != "fixed"]
    for finding in standing:
        suite.append(_case(asset, finding, report))
    if not standing:
        suite.append(Tree.Element("testcase", classname=visible(asset.path), name="no finding"))
    _count_up(suite, suite.iter("testcase"))
    return suite


def _case(asset: AssetEntry, finding: FindingEntry, report: Report) -> Tree.Element:
    where = visible(finding.part) if finding.part else "whole asset"
    case = Tree.Element(
        "testcase", classname=visible(asset.path), name=f"{visible(finding.code)}: {where}"
    )
    message = plain_sentence(finding.message, names_in(asset))
    told = f"{finding.severity}, {finding.standing}: {message}"
    if finding.accepted is not None:
        Tree.SubElement(case, "skipped", message=f"accepted: {plain_sentence(finding.accepted)}")
    elif _RANK[finding.severity] >= _RANK[report.fail_on]:
        outcome = "error" if finding.code == "unreadable" else "failure"
        fault = Tree.SubElement(case, outcome, message=message, type=visible(finding.code))
        fault.text = f"{told}\n{plain_sentence(value_and_limit(finding))}"
    else:
        Tree.SubElement(case, "system-out").text = told
    return case


def _count_up(element: Tree.Element, cases: Iterator[Tree.Element]) -> None:
    found = list(cases)
    element.set("tests", str(len(found)))
    for attribute, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
        element.set(attribute, str(sum(case.find(tag) is not None for case in found)))
