"""A picture as PNG (W3C Portable Network Graphics, third edition): deflated, no filter."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

SIGNATURE = b"\x89PNG\r\n\x1a\n"
BITS = 8  # depth of a channel
COLOR_TYPES = {2: 4, 3: 2, 4: 6}  # by channels: gray with alpha, RGB, RGB with alpha
PER_METER = 1  # unit of a pixel's size


def encoded(pixels: NDArray[np.uint8], dots_per_meter: int = 0) -> bytes:
    """pixels : (height, width, channels), the first row at the top; dots_per_meter : for print, 0 does not say."""
    height, width, channels = pixels.shape
    header = struct.pack(">IIBBBBB", width, height, BITS, COLOR_TYPES[channels], 0, 0, 0)
    rows = np.zeros((height, 1 + channels * width), dtype=np.uint8)  # each begins with its filter: none
    rows[:, 1:] = pixels.reshape(height, -1)
    size = _chunk(b"pHYs", struct.pack(">IIB", dots_per_meter, dots_per_meter, PER_METER)) if dots_per_meter else b""
    data = _chunk(b"IDAT", zlib.compress(rows.tobytes(), 6))
    return SIGNATURE + _chunk(b"IHDR", header) + size + data + _chunk(b"IEND", b"")


def as_url(pixels: NDArray[np.uint8]) -> str:
    """The picture inside a page (RFC 2397)."""
    return "data:image/png;base64," + base64.b64encode(encoded(pixels)).decode("ascii")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
