"""USD files of the binary form and packages, for the tests."""

from __future__ import annotations

import importlib
import io
import tempfile
import zipfile
from pathlib import Path


def crate(text: bytes) -> bytes:
    """A layer in text as OpenUSD's own library writes it in the binary form."""
    sdf = importlib.import_module("pxr.Sdf")
    layer = sdf.Layer.CreateAnonymous(".usda")
    layer.ImportFromString(text.decode())
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "layer.usdc"
        layer.Export(str(path))
        return path.read_bytes()


def packaged(files: dict[str, bytes], compression: int = zipfile.ZIP_STORED) -> bytes:
    """A usdz package; what its rules forbid, as compression, can be had too."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression) as package:
        for name, data in files.items():
            package.writestr(name, data)
    return stream.getvalue()
