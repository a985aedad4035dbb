"""The page's templates, compiled once and kept beside their sources, as Python keeps its modules.

Compiling them takes longer than filling them in. Python's own rules hold: nothing is written where
it is told to write no byte code (but by `keep_all`, for whoever installs), and what cannot be
written is compiled at every start.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import sys
from contextlib import suppress
from importlib.util import cache_from_source
from pathlib import Path

import jinja2
from jinja2 import BytecodeCache, Environment, PackageLoader, StrictUndefined
from jinja2.bccache import Bucket

_DAMAGE = (OSError, EOFError, ValueError, TypeError, pickle.UnpicklingError)


class KeptCode(BytecodeCache):
    """Code of templates, in the folder that their compiled Python modules would be in."""

    def __init__(self, environment: Environment, *, is_written: bool) -> None:
        self._mark, self._is_written = _mark(environment), is_written

    def get_cache_key(self, name: str, filename: str | None = None) -> str:
        """The file that a template's code lies in."""
        module = Path(cache_from_source(f"{filename or name}.py"))
        return str(module.with_suffix(f".{self._mark}.pyc"))

    def load_bytecode(self, bucket: Bucket) -> None:
        """Code of another source is passed over by `Bucket`; so is a damaged file, here."""
        try:
            with Path(bucket.key).open("rb") as file:
                bucket.load_bytecode(file)
        except _DAMAGE:
            bucket.reset()

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Written whole or not at all."""
        if not self._is_written:
            return
        file = Path(bucket.key)
        unfinished = file.with_name(f"{file.name}.{os.getpid()}")
        with suppress(OSError):
            file.parent.mkdir(parents=True, exist_ok=True)
            try:
                unfinished.write_bytes(bucket.bytecode_to_string())
                unfinished.replace(file)
            finally:
                unfinished.unlink(missing_ok=True)


def _mark(environment: Environment) -> str:
    """Of all that a template's code depends on beside its source."""
    form = (environment.autoescape, environment.trim_blocks, environment.lstrip_blocks)
    return hashlib.sha256(repr([jinja2.__version__, form]).encode()).hexdigest()[:8]


def environment_of(package: str) -> Environment:
    """The templates of a package; values are escaped as HTML."""
    environment = Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        optimized=False,  # filters would be called as it is compiled, and their results kept
    )
    environment.bytecode_cache = KeptCode(environment, is_written=not sys.dont_write_bytecode)
    return environment


def keep_all(environment: Environment) -> None:
    """Write the code of all templates of an environment, whatever Python is told."""
    environment.bytecode_cache = KeptCode(environment, is_written=True)
    for name in environment.list_templates(filter_func=lambda name: "__pycache__" not in name):
        environment.get_template(name)
