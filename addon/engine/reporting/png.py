"""A picture as PNG (W3C Portable Network Graphics, third edition): deflated, no filter."""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

SIGNATURE = b"\x89PNG\r\n\x1a\n"
BITS = 8  # depth of a channel
COLOR_TYPES = {2: 4, 3: 2, 4: 6}  # by channels: gray with alpha, RGB, RGB with alpha
PER_METER = 1  # unit of a pixel's size


def encoded(pixels: NDArray[np.uint8], dots_per_meter: int = 0) -> bytes:
    """pixels : (height, width, channels), the first row at the top; dots_per_meter : for print, 0 does not say."""
    size = _chunk(b"pHYs", struct.pack(">IIB", dots_per_meter, dots_per_meter, PER_METER)) if dots_per_meter else b""
    return SIGNATURE + _header(pixels) + size + _chunk(b"IDAT", _deflated(pixels)) + _chunk(b"IEND", b"")


def animated(frames: Sequence[NDArray[np.uint8]], delay_ms: int) -> bytes:
    """Frames of one size, shown one after the other without end; a reader that knows no animation shows the first one
    (PNG, third edition, 11.3.7)."""
    height, width, _ = frames[0].shape
    chunks = [SIGNATURE, _header(frames[0]), _chunk(b"acTL", struct.pack(">II", len(frames), 0))]
    number = 0
    for frame in frames:
        control = struct.pack(">IIIIIHHBB", number, width, height, 0, 0, delay_ms, 1000, 0, 0)
        chunks.append(_chunk(b"fcTL", control))
        number += 1
        if len(chunks) == 4:
            chunks.append(_chunk(b"IDAT", _deflated(frame)))
        else:
            chunks.append(_chunk(b"fdAT", struct.pack(">I", number) + _deflated(frame)))
            number += 1
    return b"".join([*chunks, _chunk(b"IEND", b"")])


def _header(pixels: NDArray[np.uint8]) -> bytes:
    height, width, channels = pixels.shape
    return _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, BITS, COLOR_TYPES[channels], 0, 0, 0))


def _deflated(pixels: NDArray[np.uint8]) -> bytes:
    height, width, channels = pixels.shape
    rows = np.zeros((height, 1 + channels * width), dtype=np.uint8)  # each begins with its filter: none
    rows[:, 1:] = pixels.reshape(height, -1)
    return zlib.compress(rows.tobytes(), 6)


def as_url(pixels: NDArray[np.uint8]) -> str:
    """The picture inside a page (RFC 2397)."""
    return "data:image/png;base64," + base64.b64encode(encoded(pixels)).decode("ascii")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
