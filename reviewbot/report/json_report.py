"""report.json and its JSON Schema."""

from __future__ import annotations

import json
from typing import Any

from reviewbot.report.report import Report

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def to_json(report: Report) -> str:
    """The report as JSON text; figures that are no finite numbers become null."""
    return report.model_dump_json(by_alias=True, indent=2) + "\n"


def from_json(text: str | bytes) -> Report:
    """The report back from its JSON text. Raises pydantic's ValidationError on anything else."""
    return Report.model_validate_json(text)


def json_schema() -> dict[str, Any]:
    """What every report.json fulfils, as JSON Schema 2020-12."""
    schema = Report.model_json_schema(by_alias=True, mode="serialization")
    return {"$schema": DIALECT, **schema}


def schema_text() -> str:
    """The JSON Schema as text."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
