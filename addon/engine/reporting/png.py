"""A picture as PNG (W3C Portable Network Graphics, third edition): gray with alpha, deflated, no filter."""

from __future__ import annotations

import base64
import struct
import zlib

import numpy as np
from numpy.typing import NDArray

SIGNATURE = b"\x89PNG\r\n\x1a\n"
BITS, GRAY_ALPHA = 8, 4  # depth of a channel; color type


def encoded(gray: NDArray[np.uint8], alpha: NDArray[np.uint8]) -> bytes:
    """gray, alpha : (height, width), the first row at the top."""
    height, width = gray.shape
    header = struct.pack(">IIBBBBB", width, height, BITS, GRAY_ALPHA, 0, 0, 0)
    rows = np.zeros((height, 1 + 2 * width), dtype=np.uint8)  # each begins with its filter: none
    rows[:, 1::2], rows[:, 2::2] = gray, alpha
    data = zlib.compress(rows.tobytes(), 9)
    return SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", data) + _chunk(b"IEND", b"")


def as_url(gray: NDArray[np.uint8], alpha: NDArray[np.uint8]) -> str:
    """The picture inside a page (RFC 2397)."""
    return "data:image/png;base64," + base64.b64encode(encoded(gray, alpha)).decode("ascii")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
