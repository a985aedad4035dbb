"""Objects of a JSON document with typed access: what has another type than the format asks for
is an UnsoundFileError that says where."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, NoReturn

from reviewbot.readers.names import printable_text
from reviewbot.readers.unsound import UnsoundFileError


@dataclass(frozen=True, slots=True)
class JsonRecord:
    """One object; `where` says which, for messages."""

    where: str
    fields: dict[str, Any]

    def has(self, key: str) -> bool:
        return key in self.fields

    def record(self, key: str) -> JsonRecord:
        """An object, empty where there is none."""
        value = self.fields.get(key, {})
        if not isinstance(value, dict):
            self._refuse(key, "no object")
        return JsonRecord(f"{self.where}.{key}", value)

    def records(self, key: str) -> list[JsonRecord]:
        """A list of objects, empty where there is none."""
        values = self._list(key)
        if not all(isinstance(value, dict) for value in values):
            self._refuse(key, "no list of objects")
        return [JsonRecord(f"{self.where}.{key}[{k}]", value) for k, value in enumerate(values)]

    def whole(self, key: str, default: int | None = None) -> int:
        """A whole number from 0."""
        value = self.fields.get(key, default)
        if value is None or not _is_whole(value):
            self._refuse(key, "missing" if value is None else "no whole number from 0 on")
        return int(value)

    def wholes(self, key: str) -> list[int]:
        values = self._list(key)
        if not all(_is_whole(value) for value in values):
            self._refuse(key, "no list of whole numbers from 0 on")
        return [int(value) for value in values]

    def numbers(self, key: str, default: tuple[float, ...]) -> list[float]:
        """As many numbers as the default has."""
        values = self.fields.get(key, default)
        if (
            not isinstance(values, list | tuple)
            or len(values) != len(default)
            or not all(isinstance(v, int | float) and not isinstance(v, bool) for v in values)
        ):
            self._refuse(key, f"no list of {len(default)} numbers")
        try:
            return [float(value) for value in values]
        except OverflowError:
            self._refuse(key, "out of all range")

    def text(self, key: str, default: str = "") -> str:
        value = self.fields.get(key, default)
        if not isinstance(value, str):
            self._refuse(key, "no text")
        return value

    def name(self, default: str) -> str:
        """The printable name, or the default where there is none."""
        return printable_text(self.text("name")) or default

    def texts(self, key: str) -> list[str]:
        values = self._list(key)
        if not all(isinstance(value, str) for value in values):
            self._refuse(key, "no list of texts")
        return values

    def _list(self, key: str) -> list[Any]:
        values = self.fields.get(key, [])
        if not isinstance(values, list):
            self._refuse(key, "no list")
        return values

    def _refuse(self, key: str, problem: str) -> NoReturn:
        raise UnsoundFileError(f"{self.where}.{key} is {problem}")


def json_document(data: bytes, where: str) -> JsonRecord:
    """The object a JSON text holds. Raises UnsoundFileError for anything else."""
    try:
        document = json.loads(data.decode("utf-8-sig"), parse_constant=_refuse_constant)
    except UnicodeDecodeError as error:
        raise UnsoundFileError(f"is no UTF-8 text at byte {error.start}") from error
    except json.JSONDecodeError as error:
        raise UnsoundFileError(f"is no JSON: {error.msg}", line=error.lineno) from error
    except RecursionError as error:
        raise UnsoundFileError("is nested too deeply") from error
    except ValueError as error:  # a number of thousands of digits
        raise UnsoundFileError(f"is no JSON: {error}") from error
    if not isinstance(document, dict):
        raise UnsoundFileError(f"is JSON, but no {where} object")
    return JsonRecord(where, document)


def _refuse_constant(word: str) -> NoReturn:
    raise UnsoundFileError(f"is no JSON: it has no number '{word}'")


def _is_whole(value: object) -> bool:
    if isinstance(value, float):
        return value.is_integer() and value >= 0
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0
