import json
import math

import jsonschema
import pytest
from hypothesis import given, settings
from pydantic import ValidationError
from report.sample import HOSTILE_NAMES, hostile_report, lantern_report, quiet_report
from report.strategies import reports

from reviewbot.report.json_report import from_json, json_schema, schema_text, to_json
from reviewbot.report.report import AssetEntry, ChangeEntry, Report

VALIDATOR = jsonschema.Draft202012Validator(json_schema())


def test_the_schema_is_a_schema():
    # JSON Schema 2020-12, by the meta-schema that jsonschema ships.
    jsonschema.Draft202012Validator.check_schema(json_schema())
    assert json.loads(schema_text()) == json_schema()


def test_every_field_of_the_schema_is_described():
    definitions = json_schema()["$defs"] | {"Report": json_schema()}
    plain = [
        f"{name}.{field}"
        for name, definition in definitions.items()
        for field, entry in definition["properties"].items()
        if not entry.get("description")
    ]
    assert plain == []


@pytest.mark.parametrize(
    "report", [lantern_report(), quiet_report(), hostile_report(*HOSTILE_NAMES)]
)
def test_samples_fulfil_the_schema_and_come_back(report):
    text = to_json(report)
    VALIDATOR.validate(json.loads(text))
    assert from_json(text) == report


@settings(max_examples=60, deadline=None)
@given(reports)
def test_any_report_fulfils_the_schema(report):
    text = to_json(report)
    VALIDATOR.validate(json.loads(text, parse_constant=pytest.fail))
    assert to_json(from_json(text)) == text


def test_the_contract_keeps_its_field_names():
    asset = json.loads(to_json(lantern_report()))["assets"][0]
    assert {"path", "state", "changes", "findings", "parts", "views", "pictures"} <= set(asset)
    assert {"code", "part", "message", "value", "unit"} <= set(asset["changes"][0])
    finding = "code severity part standing count value limit unit at message"
    assert set(finding.split()) <= set(asset["findings"][0])
    part = "name before_name form unwrap before after"
    assert set(part.split()) <= set(asset["parts"][0])
    assert {"name", "ssim", "silhouette_iou"} <= set(asset["views"][0])
    assert json.loads(to_json(lantern_report()))["schema"] == 1


def _with(**fields) -> Report:
    asset = AssetEntry(
        path="a.obj", before_path=None, state="added", verdict="pass", summary="", **fields
    )
    return Report(tool="t 1", title="", verdict="pass", summary="", fail_on="stop", assets=(asset,))


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_figures_that_are_not_finite_become_null(value):
    change = ChangeEntry(code="c", part="", message="m", value=value, at=(0, value, 0))
    asset = json.loads(to_json(_with(changes=(change,), after={"area": value})))["assets"][0]
    assert asset["changes"][0]["value"] is None
    assert asset["changes"][0]["at"] is None
    assert asset["after"] == {"area": None}


def test_names_that_are_not_utf8_are_written_out():
    name = b"lamp\xff.obj".decode("utf-8", "surrogateescape")
    assert json.loads(to_json(_with(notes=(name,))))["assets"][0]["notes"] == [r"lamp\udcff.obj"]


def test_an_unknown_field_is_refused():
    data = json.loads(to_json(quiet_report())) | {"surprise": 1}
    with pytest.raises(ValidationError):
        from_json(json.dumps(data))
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(data)
