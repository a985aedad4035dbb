"""Files and images on their way to a report, so that many of them do not fill the memory."""

from __future__ import annotations

import shutil
import weakref
from collections.abc import Iterator, Mapping
from pathlib import Path
from tempfile import TemporaryFile, mkdtemp
from types import TracebackType
from typing import Self

import numpy as np
import numpy.typing as npt

from reviewbot.errors import UsageError

Image = npt.NDArray[np.uint8]

IN_MEMORY = 256 << 20  # bytes


class Shelf(Mapping[str, bytes]):
    """Bytes by name, in the order they came: in memory while they are small together, else on the
    disk. Those on the disk are gone with the shelf itself.
    """

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


class ImageShelf:
    """Images on the disk, mapped into memory once all are there; use with `with`.

    They are read as they are looked at, and may be looked at after the block too.
    """

    def __init__(self) -> None:
        self._file = TemporaryFile(prefix="reviewbot-")  # noqa: SIM115 closed by the block
        self._shapes: list[tuple[int, ...] | None] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()

    def put(self, image: Image | None) -> None:
        """One more, or a place without one. Raises UsageError where the disk has no room."""
        self._shapes.append(None if image is None else image.shape)
        if image is None:
            return
        try:
            self._file.write(np.ascontiguousarray(image).data)
            self._file.flush()
        except OSError as error:
            raise UsageError(f"pictures cannot be put aside: {error.strerror}") from error

    def images(self) -> list[Image | None]:
        """All of them, in the order they came."""
        sizes = [0 if shape is None else int(np.prod(shape)) for shape in self._shapes]
        whole = np.empty(0, np.uint8)
        if sum(sizes):
            whole = np.memmap(self._file, dtype=np.uint8, mode="r")
        pieces = np.split(whole, np.cumsum(sizes)[:-1]) if sizes else []
        return [
            None if shape is None else piece.reshape(shape)
            for piece, shape in zip(pieces, self._shapes, strict=True)
        ]
