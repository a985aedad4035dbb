"""What every record of a report has in common."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict


def _encodable(text: object) -> object:
    """Lone surrogates, as in file names that are not UTF-8, written out: no JSON can hold them."""
    if isinstance(text, str):
        return text.encode("utf-8", "backslashreplace").decode("utf-8")
    return text


Text = Annotated[str, BeforeValidator(_encodable)]
Measures = dict[Text, float | int | Text | None]


class Record(BaseModel):
    """Frozen, closed, and documented in the JSON Schema by its own docstrings.

    pydantic can take those of the fields itself, and then reads the sources again at every start;
    `json_report` does it where a schema is asked for.
    """

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        ser_json_inf_nan="null",
        populate_by_name=True,
    )
