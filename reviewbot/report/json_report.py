"""report.json and its JSON Schema."""

from __future__ import annotations

import ast
import inspect
import json
from itertools import pairwise
from typing import Any

from reviewbot.report.record import Record
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
    forms = {**schema["$defs"], Report.__name__: schema}
    for record in Record.__subclasses__():
        if record.__name__ in forms:
            _describe(record, forms[record.__name__]["properties"])
    return {"$schema": DIALECT, **schema}


def _describe(record: type[Record], properties: dict[str, Any]) -> None:
    """Give each property of a record the words below its field, keys in order."""
    for name, words in _field_docstrings(record).items():
        key = record.model_fields[name].alias or name
        properties[key] = dict(sorted({**properties[key], "description": words}.items()))


def _field_docstrings(record: type[Record]) -> dict[str, str]:
    (body,) = ast.parse(inspect.getsource(record)).body
    assert isinstance(body, ast.ClassDef)
    return {
        field.target.id: inspect.cleandoc(below.value.value)
        for field, below in pairwise(body.body)
        if isinstance(field, ast.AnnAssign)
        and isinstance(field.target, ast.Name)
        and isinstance(below, ast.Expr)
        and isinstance(below.value, ast.Constant)
        and isinstance(below.value.value, str)
    }


def schema_text() -> str:
    """The JSON Schema as text."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"
