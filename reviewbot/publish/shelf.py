"""Files on their way to a report: in memory while they are small together, on the disk beyond."""

from __future__ import annotations

import shutil
import weakref
from collections.abc import Iterator, Mapping
from pathlib import Path
from tempfile import mkdtemp

from reviewbot.errors import UsageError

IN_MEMORY = 256 << 20  # bytes


class Shelf(Mapping[str, bytes]):
    """Bytes by name, in the order they came. Those on the disk are gone with the shelf itself."""

    def __init__(self, *, in_memory: int = IN_MEMORY) -> None:
        self._room = in_memory
        self._places: dict[str, bytes | Path] = {}
        self._folder: Path | None = None

    def put(self, name: str, data: bytes) -> None:
        """Raises UsageError where there is no room for it, neither here nor on the disk."""
        if len(data) <= self._room:
            self._room -= len(data)
            self._places[name] = data
            return
        try:
            file = self._on_disk() / str(len(self._places))
            file.write_bytes(data)
        except OSError as error:
            raise UsageError(f"pictures cannot be put aside: {error.strerror}") from error
        self._places[name] = file

    def _on_disk(self) -> Path:
        if self._folder is None:
            self._folder = Path(mkdtemp(prefix="reviewbot-"))
            weakref.finalize(self, shutil.rmtree, self._folder, ignore_errors=True)
        return self._folder

    def __getitem__(self, name: str) -> bytes:
        place = self._places[name]
        return place.read_bytes() if isinstance(place, Path) else place

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)
