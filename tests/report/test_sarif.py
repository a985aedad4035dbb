"""report.sarif against the published schema: SARIF 2.1.0 (OASIS, 2020), as shipped in npm."""

from __future__ import annotations

import json
import re

import jsonschema
import pytest
from hypothesis import given, settings
from report.npm_packages import installed
from report.sample import HOSTILE_NAMES, hostile_report, lantern_report, quiet_report
from report.strategies import reports

from reviewbot.report.sarif import to_sarif


@pytest.fixture(scope="module")
def schema() -> jsonschema.Draft7Validator:
    folder = installed("@microsoft/jest-sarif", "1.0.0-beta.0") / "lib" / "schemas"
    (path,) = folder.glob("sarif-2.1.0*.json")
    return jsonschema.Draft7Validator(json.loads(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize(
    "report", [lantern_report(), quiet_report(), hostile_report(*HOSTILE_NAMES)]
)
def test_samples_fulfil_the_schema(schema, report):
    schema.validate(json.loads(to_sarif(report)))


def test_any_report_fulfils_the_schema(schema):
    @settings(max_examples=25, deadline=None)
    @given(reports)
    def check(report):
        schema.validate(json.loads(to_sarif(report), parse_constant=pytest.fail))

    check()


def test_the_schema_refuses_what_is_wrong(schema):
    log = json.loads(to_sarif(lantern_report()))
    log["runs"][0]["results"][0]["level"] = "stop"
    with pytest.raises(jsonschema.ValidationError):
        schema.validate(log)


def results() -> list[dict]:
    return json.loads(to_sarif(lantern_report()))["runs"][0]["results"]


def test_severities_and_standings_are_told_in_sarif_words():
    told = {result["ruleId"]: result for result in results()}
    assert told["uv-missing"]["level"] == "error"
    assert told["uv-missing"]["baselineState"] == "new"
    assert told["ngon"]["level"] == "warning"
    assert told["ngon"]["baselineState"] == "updated"
    assert told["tile-wasted"]["level"] == "note"
    assert told["tile-wasted"]["baselineState"] == "unchanged"
    assert told["loose-vertex"]["baselineState"] == "absent"
    assert told["uv-overlap"]["suppressions"][0]["justification"].startswith("stacked on purpose")


def test_each_result_names_its_rule_and_place():
    run = json.loads(to_sarif(lantern_report()))["runs"][0]
    rules = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    for result in run["results"]:
        assert rules[result["ruleIndex"]] == result["ruleId"]
    location = run["results"][0]["locations"][0]
    assert location["physicalLocation"]["artifactLocation"]["uri"].endswith("lantern_low.obj")
    assert location["logicalLocations"][0]["name"] == "handle"


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_messages_hold_no_links_and_no_placeholders(name):
    # SARIF 2.1.0, 3.11.5 and 3.11.6: brackets and braces stand for themselves only when escaped.
    for result in json.loads(to_sarif(hostile_report(name)))["runs"][0]["results"]:
        text = result["message"]["text"]
        bare = re.sub(r"\\\\|\\\[|\\\]|\{\{|\}\}", "", text)
        assert not set(bare) & set("[]{}\\\n\x1b")
