"""GLB files (binary glTF 2.0), read with numpy: the triangles of every node, where its tree puts them.

Blender's importer is not used here: it trusts a file's counts and indices, and crashes where they are wrong.
Materials, images, lights and animations are ignored; skins and shape keys count in their rest state. Sections named
below are those of the glTF 2.0 Specification (Khronos Group, 2021).
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...engine.errors import InputError
from ...engine.filled import filled

REMEDY = "it was cut off or damaged; export the model again"
TYPES = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}  # 3.6.2.2
NUMBERS = {"SCALAR": 1, "VEC3": 3}
TRIANGLES, STRIP, FAN = 4, 5, 6  # 5.24.4: modes of a primitive that make a surface
HARMLESS = ("KHR_materials_", "KHR_texture_", "KHR_lights_", "KHR_mesh_quantization", "EXT_texture_")
Z_UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])  # 3.4: its files have Y up


def read(path: Path, max_triangles: int) -> NDArray[np.float64]:
    """Corners (m, 3, 3) in the file's own unit, Z up. Raises InputError where the file is no whole GLB file, or where
    it has no mesh, or more triangles."""
    try:
        with np.errstate(all="ignore"):  # points that are not finite are refused later
            return _File(path.read_bytes()).corners(max_triangles)
    except _WrongError as wrong:
        raise InputError(filled("{path}: {wrong}", path=path, wrong=wrong.args[0])) from None
    except (TypeError, ValueError, LookupError, AttributeError, OverflowError, RecursionError):
        raise InputError(filled("{path}: its list of contents is damaged; export the model again", path=path)) from None


class _WrongError(Exception):
    """What is wrong with the file, and the remedy."""


class _File:
    """The list of contents and the one block of numbers that it is about."""

    def __init__(self, data: bytes) -> None:
        if data[:4] != b"glTF" or len(data) < 20:
            raise _WrongError("it does not begin as a GLB file does; export the model again")
        version, length, chunk = struct.unpack("<III", data[4:16])
        if version != 2:
            raise _WrongError(filled("it is of glTF version {version}; export it as glTF 2.0", version=version))
        if length != len(data) or 20 + chunk > len(data):
            raise _WrongError(
                filled(
                    "{promised} bytes are promised and {count} are there: it was cut off; export the model again",
                    promised=length,
                    count=len(data),
                )
            )
        contents = json.loads(data[20 : 20 + chunk])
        if not isinstance(contents, dict) or not contents.get("meshes"):
            raise _WrongError("there is no mesh in it; choose a file with a surface")
        self.contents: dict[str, Any] = contents
        needed = [name for name in contents.get("extensionsRequired", []) if not str(name).startswith(HARMLESS)]
        if needed:
            raise _WrongError(
                filled(
                    "it cannot be read without its extension {name}; export it without, uncompressed", name=needed[0]
                )
            )
        after = data[20 + chunk :]
        self.block = b""
        if len(after) >= 8 and after[4:8] == b"BIN\0":
            size = int.from_bytes(after[:4], "little")
            if size > len(after) - 8:
                raise _WrongError(
                    filled("its block of numbers lacks {size} bytes: {again}", size=size - len(after) + 8, again=REMEDY)
                )
            self.block = after[8 : 8 + size]

    def corners(self, max_triangles: int) -> NDArray[np.float64]:
        """The triangles of all nodes."""
        meshes: dict[int, NDArray[np.float64]] = {}
        corners, total = [np.zeros((0, 3, 3))], 0
        for mesh, matrix in self._placed():
            if mesh not in meshes:
                meshes[mesh] = self._mesh(self._entry("meshes", mesh))
            total += len(meshes[mesh])
            if total > max_triangles:
                raise _WrongError(
                    filled("it has more than {count} triangles; thin the mesh out first", count=max_triangles)
                )
            placed = meshes[mesh] @ matrix[:3, :3].T + matrix[:3, 3]
            corners.append(placed[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else placed)  # 3.7.4
        return np.concatenate(corners) @ Z_UP.T

    def _entry(self, kind: str, index: Any) -> dict[str, Any]:
        entries = self.contents.get(kind, [])
        if type(index) is not int or not 0 <= index < len(entries) or not isinstance(entries[index], dict):
            raise _WrongError(
                filled(
                    "it names {label}, of {count}: {again}",
                    label=f"{kind}[{index!r}]",
                    count=len(entries),
                    again=REMEDY,
                )
            )
        return entries[index]

    def _placed(self) -> Iterator[tuple[int, NDArray[np.float64]]]:
        """Mesh and place (4, 4) of every node that has a mesh (3.5.2: nodes are trees)."""
        nodes = self.contents.get("nodes", [])
        children = [child for node in range(len(nodes)) for child in self._entry("nodes", node).get("children", [])]
        below = set(children)
        if len(below) < len(children):
            raise _WrongError(filled("a node of it hangs in two places: {again}", again=REMEDY))
        left = [(node, np.eye(4)) for node in range(len(nodes)) if node not in below]
        seen = 0
        while left:
            index, above = left.pop()
            node, seen = self._entry("nodes", index), seen + 1
            matrix = above @ _matrix(node)
            left += [(child, matrix) for child in node.get("children", [])]
            if "mesh" in node:
                yield node["mesh"], matrix
        if seen < len(nodes):
            raise _WrongError(filled("a node of it hangs in itself: {again}", again=REMEDY))

    def _mesh(self, mesh: dict[str, Any]) -> NDArray[np.float64]:
        corners = [np.zeros((0, 3, 3))]
        for primitive in mesh.get("primitives", []):
            mode = primitive.get("mode", TRIANGLES)
            if mode not in (TRIANGLES, STRIP, FAN):
                continue  # points and lines
            points = self._numbers(primitive.get("attributes", {}).get("POSITION"), "VEC3").astype(np.float64)
            index = np.arange(len(points))
            if "indices" in primitive:
                index = self._numbers(primitive["indices"], "SCALAR")[:, 0]
                if index.dtype.kind != "u" or index.max(initial=0) >= len(points):
                    raise _WrongError(filled("a face names a point that does not exist: {again}", again=REMEDY))
            corners.append(points[_triangles(index.astype(np.int64), mode)])
        return np.concatenate(corners)

    def _numbers(self, accessor: Any, kind: str) -> NDArray[Any]:
        """(count, 1 or 3) what an accessor says (3.6.2), all of it inside its view of the block."""
        entry = self._entry("accessors", accessor)
        count, size = _whole(entry.get("count"), 1), NUMBERS[kind]
        dtype = np.dtype(TYPES.get(entry.get("componentType"), "V"))
        if dtype.kind == "V" or entry.get("type") != kind:
            raise _WrongError(
                filled("accessors[{label}] is not made of {kind}: {again}", label=accessor, kind=kind, again=REMEDY)
            )
        if "bufferView" in entry:
            values = self._view(entry["bufferView"], entry.get("byteOffset", 0), count, dtype, size)
        elif count > len(self.block):
            raise _WrongError(
                filled(
                    "accessors[{label}] promises {count} entries that are not there: {again}",
                    label=accessor,
                    count=count,
                    again=REMEDY,
                )
            )
        else:
            values = np.zeros((count, size), dtype)
        if "sparse" in entry:
            values = self._sparse(entry["sparse"], values)
        if entry.get("normalized") and dtype.kind != "f":  # 3.6.2.2
            return np.maximum(values / np.iinfo(dtype).max, -1.0)
        return values

    def _sparse(self, sparse: dict[str, Any], values: NDArray[Any]) -> NDArray[Any]:
        """The values with some of them replaced (3.6.2.3)."""
        count, index, new = _whole(sparse["count"], 1), sparse["indices"], sparse["values"]
        dtype = np.dtype(TYPES.get(index["componentType"], "V"))
        if dtype.kind != "u":
            raise _WrongError(filled("a sparse accessor counts with no whole numbers: {again}", again=REMEDY))
        rows = self._view(index["bufferView"], index.get("byteOffset", 0), count, dtype, 1)[:, 0]
        if rows.max() >= len(values):
            raise _WrongError(filled("a sparse accessor changes a number that is not there: {again}", again=REMEDY))
        changed = values.copy()
        changed[rows] = self._view(new["bufferView"], new.get("byteOffset", 0), count, values.dtype, values.shape[1])
        return changed

    def _view(self, view: Any, offset: Any, count: int, dtype: np.dtype[Any], size: int) -> NDArray[Any]:
        """(count, size) numbers from a view of the block (3.6.1.1)."""
        entry = self._entry("bufferViews", view)
        buffer = self._entry("buffers", entry.get("buffer"))
        if entry.get("buffer") != 0 or "uri" in buffer:
            raise _WrongError("its numbers are in another file; export it again as one .glb")
        start, length = _whole(entry.get("byteOffset", 0)), _whole(entry.get("byteLength"), 1)
        step = _whole(entry.get("byteStride", size * dtype.itemsize), size * dtype.itemsize)
        inside = _whole(offset)
        if inside + step * (count - 1) + size * dtype.itemsize > length or start + length > len(self.block):
            raise _WrongError(
                filled(
                    "bufferViews[{label}] is shorter than the {count} entries that are promised: {again}",
                    label=view,
                    count=count,
                    again=REMEDY,
                )
            )
        return np.ndarray((count, size), dtype, self.block, start + inside, (step, dtype.itemsize))


def _whole(value: Any, least: int = 0) -> int:
    if type(value) is not int or not least <= value < 1 << 48:
        raise _WrongError(filled("a count or an offset in it is {label}: {again}", label=str(value)[:20], again=REMEDY))
    return value


def _triangles(index: NDArray[np.int64], mode: int) -> NDArray[np.int64]:
    """Rows of three points of a primitive (3.7.2.1)."""
    if mode == TRIANGLES:
        if len(index) % 3:
            raise _WrongError(
                filled("{count} corners make no whole number of triangles: {again}", count=len(index), again=REMEDY)
            )
        return index.reshape(-1, 3)
    k = np.arange(max(len(index) - 2, 0))
    if mode == STRIP:
        return index[np.stack([k, k + 1 + k % 2, k + 2 - k % 2], axis=1)]
    return index[np.stack([k + 1, k + 2, np.zeros_like(k)], axis=1)]


def _matrix(node: dict[str, Any]) -> NDArray[np.float64]:
    """(4, 4) of a node beside the one that it hangs on (3.5.3)."""
    if "matrix" in node:
        return np.array(node["matrix"], dtype=np.float64).reshape(4, 4).T  # column by column
    x, y, z, w = np.array(node.get("rotation", (0, 0, 0, 1)), dtype=np.float64)
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )
    matrix = np.eye(4)
    matrix[:3, :3] = turn * np.array(node.get("scale", (1, 1, 1)), dtype=np.float64).reshape(3)
    matrix[:3, 3] = np.array(node.get("translation", (0, 0, 0)), dtype=np.float64).reshape(3)
    return matrix
