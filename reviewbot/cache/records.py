"""Plain records and arrays as a table and bytes, and back.

What may come back is what the record's own annotations say, all the way down, and nothing else:
numbers, text, arrays, tuples, mappings, and records of those. Nothing names a class to be made.
"""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType, NoneType, UnionType
from typing import Any, Literal, TypeVar, get_args, get_origin

import numpy as np

T = TypeVar("T")
_ARRAY_KINDS = "biuf"
_PLAIN = (bool, int, float, str)


class UnknownFormError(Exception):
    """A value, a table or an annotation is none that is understood here."""


@cache
def _fields(record: type) -> tuple[tuple[str, Any], ...]:
    """Names and annotations of a record's fields, in order."""
    hints = typing.get_type_hints(record)
    return tuple((field.name, hints[field.name]) for field in dataclasses.fields(record))


class Packer:
    """Packs values; a record or an array that is met again is only referred to."""

    def __init__(self) -> None:
        self.blobs: list[bytes] = []
        self._numbers: dict[int, int] = {}
        self._held: list[object] = []  # so that no id is given to another object meanwhile

    def pack(self, value: Any, form: Any) -> Any:
        """A value of an annotated form, fit for JSON. Raises UnknownFormError."""
        if value is None:
            return None
        if isinstance(value, np.ndarray) or dataclasses.is_dataclass(value):
            return self._shared(value)
        if isinstance(value, bytes):
            self.blobs.append(value)
            return len(self.blobs) - 1
        return self._items(value, form)

    def _items(self, value: Any, form: Any) -> Any:
        origin, inner = get_origin(form), get_args(form)
        if origin in (typing.Union, UnionType):
            return self.pack(value, _only(inner))
        if origin is tuple:
            return [
                self.pack(one, each) for one, each in zip(value, _each(inner, value), strict=True)
            ]
        if origin is Mapping:
            return [[self.pack(k, inner[0]), self.pack(v, inner[1])] for k, v in value.items()]
        return _plain(value, form)

    def _shared(self, value: Any) -> Any:
        number = self._numbers.get(id(value))
        if number is not None:
            return number
        if isinstance(value, np.ndarray):
            packed: dict[str, Any] = {"array": self._array(value)}
        else:
            kind: Any = type(value)
            fields = _fields(kind)
            packed = {"record": [self.pack(getattr(value, name), form) for name, form in fields]}
        self._numbers[id(value)] = len(self._held)  # numbered when whole, inner ones first
        self._held.append(value)
        return packed

    def _array(self, array: np.ndarray[Any, Any]) -> list[Any]:
        if array.dtype.kind not in _ARRAY_KINDS:
            raise UnknownFormError(f"an array of {array.dtype}")
        self.blobs.append(np.ascontiguousarray(array).tobytes())
        return [array.dtype.newbyteorder("<").str, array.shape, len(self.blobs) - 1]


class Unpacker:
    """Unpacks what a `Packer` packed; raises UnknownFormError for anything else."""

    def __init__(self, blobs: list[bytes]) -> None:
        self._blobs = blobs
        self._met: list[object] = []

    def unpack(self, packed: Any, form: type[T]) -> T:
        """A value of an annotated form."""
        try:
            value: T = self._unpack(packed, form)
        except (ValueError, TypeError, KeyError, IndexError, RecursionError) as error:
            raise UnknownFormError("this is no such record") from error
        return value

    def _unpack(self, packed: Any, form: Any) -> Any:
        origin, inner = get_origin(form), get_args(form)
        if origin in (typing.Union, UnionType):
            return None if packed is None else self._unpack(packed, _only(inner))
        if origin is np.ndarray or dataclasses.is_dataclass(form):
            return self._shared(packed, np.ndarray if origin is np.ndarray else form)
        if form is bytes:
            return self._blobs[_index(packed)]
        return self._items(packed, form)

    def _items(self, packed: Any, form: Any) -> Any:
        origin, inner = get_origin(form), get_args(form)
        if origin is tuple:
            each = _each(inner, packed)
            return tuple(self._unpack(one, form) for one, form in zip(packed, each, strict=True))
        if origin is Mapping:
            pairs = ((self._unpack(k, inner[0]), self._unpack(v, inner[1])) for k, v in packed)
            return MappingProxyType(dict(pairs))
        return _plain(packed, form)

    def _shared(self, packed: Any, form: Any) -> Any:
        if isinstance(packed, int):
            value = self._met[_index(packed)]
            if type(value) is not form:
                raise TypeError("another form was met")
            return value
        if form is np.ndarray:
            value = self._array(*packed["array"])
        else:
            fields = _fields(form)
            parts = zip(packed["record"], fields, strict=True)
            value = form(**{name: self._unpack(one, inner) for one, (name, inner) in parts})
        self._met.append(value)
        return value

    def _array(self, kind: str, shape: list[int], number: int) -> np.ndarray[Any, Any]:
        dtype = np.dtype(str(kind))
        if dtype.kind not in _ARRAY_KINDS:
            raise TypeError("no array of numbers")
        return np.frombuffer(self._blobs[_index(number)], dtype=dtype).reshape(shape)


def _only(forms: tuple[Any, ...]) -> Any:
    """The one form beside None."""
    (form,) = (form for form in forms if form is not NoneType)
    return form


def _each(inner: tuple[Any, ...], values: Any) -> tuple[Any, ...]:
    """The form of each item of a tuple."""
    return (inner[0],) * len(values) if inner[1:] == (Ellipsis,) else inner


def _plain(value: Any, form: Any) -> Any:
    """A number or a text, as its form says: numpy's own numbers too."""
    if get_origin(form) is Literal:
        if value not in get_args(form):
            raise TypeError("none of the values")
        return value
    if form not in _PLAIN:
        raise UnknownFormError(f"a value of form {form}")
    if isinstance(value, str) != (form is str) or isinstance(value, list | dict):
        raise TypeError("another kind of value")
    return form(value)


def _index(value: Any) -> int:
    if type(value) is not int or value < 0:
        raise TypeError("no index")
    return value
