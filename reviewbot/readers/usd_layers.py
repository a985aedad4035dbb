"""USD layers in memory: a file, what it refers to, and nothing else.

References between layers are followed by this module, not by the library: each is looked up
beside the mesh (inside the package, for usdz), read into an anonymous layer, and the reference is
pointed at that. What may not be had is cut off and noted. So composing the stage opens no file.
"""

from __future__ import annotations

import importlib
import io
import posixpath
import re
import tempfile
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reviewbot.readers.names import printable_text
from reviewbot.readers.references import ReferenceRefusedError, Siblings, fetch, inner_path
from reviewbot.readers.unsound import UnsoundFileError

LIBRARY = "pxr"
MOST_LAYERS = 256
_CRATE, _TEXT, _ZIP = b"PXR-USDC", b"#usda", b"PK\x03\x04"
_PLACE = re.compile(r":(\d+):\d+: ([^'\n]{1,160})")  # as the library's parser says it
_OWN_NAMES = "pxrInternal"
_LAYER_SUFFIXES = (".usda", ".usdc", ".usd")


@dataclass(slots=True, kw_only=True)
class Layers:
    """Layers read so far, by path beside the mesh; all must outlive the stage made of them.

    package  all files of a usdz package by path, empty for a plain layer
    """

    siblings: Siblings
    package: dict[str, bytes] = field(default_factory=dict)
    by_path: dict[str, Any] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def root_layer(data: bytes, name: str, layers: Layers) -> Any:
    """The file's own layer, everything it refers to attached. Raises UnsoundFileError."""
    if data.startswith(_ZIP):
        entries = _package(data)
        name = next((entry for entry in entries if entry.endswith(_LAYER_SUFFIXES)), "")
        if not name:
            raise UnsoundFileError("is a usdz package without a layer")
        layers.package, layers.siblings, data = entries, entries.get, entries[name]
    return _attached(data, name, layers)


def path_from(layer: Any, reference: str, layers: Layers) -> str:
    """What a layer calls `reference`, as a path beside the mesh; as it is for an unknown layer."""
    place = next((path for path, known in layers.by_path.items() if known == layer), "")
    plain = reference.replace("\\", "/")
    return posixpath.normpath(posixpath.join(posixpath.dirname(place), plain)) if plain else ""


def _package(data: bytes) -> dict[str, bytes]:
    """Files of a usdz package; its rules say that none is compressed or encrypted."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            infos = package.infolist()
            if any(i.compress_type != zipfile.ZIP_STORED or i.flag_bits & 1 for i in infos):
                raise UnsoundFileError("is a usdz package with compressed or encrypted files")
            if sum(info.file_size for info in infos) > len(data):
                raise UnsoundFileError("is a usdz package that promises more than it holds")
            return {
                info.filename: package.read(info)
                for info in infos
                if not info.filename.endswith("/")
            }
    except (zipfile.BadZipFile, NotImplementedError, OSError, EOFError, ValueError) as error:
        raise UnsoundFileError("is a broken usdz package") from error


def _attached(data: bytes, path: str, layers: Layers) -> Any:
    layer = _layer(data)
    layers.by_path[path] = layer
    for reference in layer.GetCompositionAssetDependencies():
        found = _referred(reference, path, layers)
        layer.UpdateCompositionAssetDependency(reference, found.identifier if found else "")
    return layer


def _referred(reference: str, path: str, layers: Layers) -> Any | None:
    """The layer a reference in the layer at `path` names, or None, noted, for none."""
    try:
        target = posixpath.join(posixpath.dirname(path), inner_path(reference))
        if target in layers.by_path:
            return layers.by_path[target]
        if len(layers.by_path) >= MOST_LAYERS:
            raise ReferenceRefusedError("is one layer too many")
        return _attached(fetch(target, layers.siblings), target, layers)
    except ReferenceRefusedError as error:
        layers.notes.append(f"the layer '{printable_text(reference)[:80]}' {error}")
    except UnsoundFileError as error:
        layers.notes.append(f"the layer '{printable_text(reference)[:80]}' {error.reason}")
    return None


def _layer(data: bytes) -> Any:
    sdf, tf = importlib.import_module("pxr.Sdf"), importlib.import_module("pxr.Tf")
    try:
        if data.startswith(_CRATE):
            return _crate_layer(sdf, data)
        if data.startswith(_TEXT):
            layer = sdf.Layer.CreateAnonymous(".usda")
            layer.ImportFromString(data.decode("utf-8"))
            return layer
    except UnicodeDecodeError as error:
        raise UnsoundFileError("is no UTF-8 text") from error
    except tf.ErrorException as error:
        raise parse_error(str(error)) from error
    raise UnsoundFileError("does not begin as a USD file does")


def _crate_layer(sdf: Any, data: bytes) -> Any:
    """The binary form is read from a file only: a private one, gone again at once."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "layer.usdc"
        file.write_bytes(data)
        layer = sdf.Layer.OpenAsAnonymous(str(file))
    if layer is None:
        raise UnsoundFileError("is no sound USD layer")
    return layer


def parse_error(message: str) -> UnsoundFileError:
    """What the library said, without the names of its own parts."""
    found = _PLACE.search(message)
    if found is None:
        return UnsoundFileError("is no sound USD layer")
    what, line = printable_text(found[2]).strip().removesuffix(" at"), int(found[1])
    told = "" if _OWN_NAMES in what else f": {what}"
    return UnsoundFileError(f"is no sound USD layer{told}", line=line)
