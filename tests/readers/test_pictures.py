"""Pictures of materials are decoded to what can be shown, and hostile ones refused in words."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from reviewbot.readers import pictures
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.pictures import MOST_PIXELS, PictureRefusedError, decode_picture

RNG = np.random.default_rng(7)


def encoded(image: Image.Image, form: str, **options: object) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, form, **options)
    return buffer.getvalue()


def noise(height: int, width: int) -> np.ndarray:
    return RNG.integers(0, 256, (height, width, 3), dtype=np.uint8)


def promising(width: int, height: int) -> bytes:
    """A PNG (ISO/IEC 15948) whose head promises a size that its one byte of data cannot fill."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("PNG", {}),
        ("WEBP", {"lossless": True}),
        ("TGA", {}),
        ("BMP", {}),
        ("TIFF", {"compression": "tiff_lzw"}),
    ],
)
def test_forms_without_loss_come_back_as_they_were(form: str, options: dict[str, object]) -> None:
    pixels = noise(5, 7)
    data = encoded(Image.fromarray(pixels), form, **options)
    assert (decode_picture(data, longest=8) == pixels).all()


def test_other_modes_become_colours() -> None:
    grey = Image.fromarray(noise(4, 4)[..., 0])
    assert (decode_picture(encoded(grey, "PNG"), longest=8)[..., 2] == np.asarray(grey)).all()
    wide = Image.fromarray(np.array([[0, 128 << 8, 65535]], dtype=np.uint16))
    assert decode_picture(encoded(wide, "PNG"), longest=8)[0, :, 0].tolist() == [0, 128, 255]
    photo = decode_picture(encoded(Image.new("CMYK", (9, 9)), "JPEG"), longest=16)
    assert photo.min() > 250


def test_large_pictures_are_averaged_in_light() -> None:
    """Half black, half white is half the light: sRGB 188 (IEC 61966-2-1), not 128."""
    board = np.indices((40, 60)).sum(axis=0) % 2 * 255
    data = encoded(Image.fromarray(board.astype(np.uint8)), "PNG")
    small = decode_picture(data, longest=30)
    assert small.shape == (20, 30, 3)
    assert np.unique(small).tolist() == [188]


@pytest.mark.parametrize(
    ("shape", "small"), [((1, 64), (1, 16)), ((64, 3), (16, 1)), ((9, 9), (3, 3))]
)
def test_thin_and_odd_pictures_keep_a_row(shape: tuple[int, int], small: tuple[int, int]) -> None:
    data = encoded(Image.fromarray(noise(*shape)), "PNG")
    longest = 16 if max(shape) > 9 else 4
    assert decode_picture(data, longest=longest).shape[:2] == small


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a picture",
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
        b"GIF89a" + bytes(20),
        promising(9, 9),
        encoded(Image.fromarray(noise(64, 64)), "PNG")[:500],
    ],
)
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(PictureRefusedError, match="is no PNG"):
        decode_picture(data, longest=64)


@pytest.mark.parametrize("size", [(8193, 8192), (100_000, 100_000)])
def test_a_picture_that_unpacks_to_too_much_is_refused_unread(size: tuple[int, int]) -> None:
    assert size[0] * size[1] > MOST_PIXELS
    with pytest.raises(PictureRefusedError, match=r"is larger|pixels large"):
        decode_picture(promising(*size), longest=64)


def test_a_file_that_is_too_large_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "MOST_BYTES", 1 << 20)
    with pytest.raises(PictureRefusedError, match="file of 2 MB"):
        decode_picture(bytes(2 << 20), longest=64)


def test_the_reading_process_decodes_what_this_one_does() -> None:
    pixels = noise(30, 20)
    with IsolatedReader(memory_mb=512, seconds=20) as reader:
        assert (reader.picture(encoded(Image.fromarray(pixels), "PNG"), 64) == pixels).all()
        for form in ("JPEG", "WEBP", "TIFF", "TGA", "BMP"):
            data = encoded(Image.fromarray(pixels), form)
            assert (reader.picture(data, 64) == decode_picture(data, longest=64)).all()
        for broken in (b"", b"\0" * 100, promising(100_000, 100_000)):
            with pytest.raises(PictureRefusedError):
                reader.picture(broken, 64)
        assert reader.picture(encoded(Image.fromarray(pixels), "PNG"), 10).shape == (10, 6, 3)


def test_a_want_of_memory_is_a_refusal() -> None:
    large = encoded(Image.new("RGB", (8192, 8192)), "PNG")
    with (
        IsolatedReader(memory_mb=64, seconds=20) as reader,
        pytest.raises(PictureRefusedError, match=r"64 MB|memory"),
    ):
        reader.picture(large, 64)
