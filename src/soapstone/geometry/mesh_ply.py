"""PLY, written as text or in binary of either byte order."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from soapstone.geometry.mesh_text import MeshError, Surface, fans, numbers, whole_numbers
from soapstone.geometry.vectors import Array

TYPES = {
    **dict.fromkeys(("char", "int8"), "i1"),
    **dict.fromkeys(("uchar", "uint8"), "u1"),
    **dict.fromkeys(("short", "int16"), "i2"),
    **dict.fromkeys(("ushort", "uint16"), "u2"),
    **dict.fromkeys(("int", "int32"), "i4"),
    **dict.fromkeys(("uint", "uint32"), "u4"),
    **dict.fromkeys(("float", "float32"), "f4"),
    **dict.fromkeys(("double", "float64"), "f8"),
}
ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
CORNERS = ("vertex_indices", "vertex_index")


@dataclass(frozen=True, slots=True)
class Property:
    """A property of an element: its name, its type, and of a list the type of its length."""

    name: str
    kind: str
    length: str = ""


@dataclass(frozen=True, slots=True)
class Element:
    """A block of the file: so many rows of these properties."""

    name: str
    count: int
    properties: tuple[Property, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """What an element holds: a column (count,) of each plain property, and of each list its items.

    `lists` gives for each list all items, one row after another, and how many each row has.
    """

    columns: dict[str, Array]
    lists: dict[str, tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]]


def read_ply(data: bytes) -> Surface:
    """Read PLY; see `mesh_text` for what comes of it."""
    end = data.find(b"end_header")
    if data[:3] != b"ply" or end < 0:
        raise MeshError("expected PLY with a header, found something else")
    order, elements = _header(data[:end].decode("latin-1"))
    start = data.find(b"\n", end) + 1
    if start == 0:
        raise MeshError("expected PLY with data after its header; it is cut short")
    blocks = _text_blocks(data[start:], elements) if not order else {}
    if order:
        for element in (one for one in elements if one.properties):
            blocks[element.name], start = _binary_block(data, start, element, order)
    return _surface(blocks)


def _surface(blocks: dict[str, Block]) -> Surface:
    vertex, face = blocks.get("vertex"), blocks.get("face")
    if vertex is None or not {"x", "y", "z"} <= vertex.columns.keys():
        raise MeshError("expected PLY with vertices of x, y and z")
    name = next((name for name in CORNERS if face and name in face.lists), None)
    if face is None or name is None:
        raise MeshError("expected PLY with faces; points alone are no surface")
    vertices = np.stack([vertex.columns[axis] for axis in "xyz"], axis=1)
    return vertices, fans(*face.lists[name])


def _header(text: str) -> tuple[str, list[Element]]:
    order, elements = None, list[Element]()
    for line in text.splitlines()[1:]:
        match line.split():
            case [] | ["comment" | "obj_info", *_]:
                continue
            case ["format", kind, _] if kind in ORDERS:
                order = ORDERS[kind]
            case ["element", name, count] if count.isascii() and count.isdigit():
                elements.append(Element(name, int(count), ()))
            case ["property", kind, name] if kind in TYPES and elements:
                _add(elements, Property(name, TYPES[kind]))
            case ["property", "list", length, kind, name] if (
                elements and kind in TYPES and TYPES.get(length, "f")[0] != "f"
            ):
                _add(elements, Property(name, TYPES[kind], TYPES[length]))
            case _:
                raise MeshError(f"expected a PLY header, found the line {line.strip()[:40]!r}")
    if order is None:
        raise MeshError("expected a PLY header that names its format")
    return order, elements


def _add(elements: list[Element], one: Property) -> None:
    last = elements[-1]
    elements[-1] = Element(last.name, last.count, (*last.properties, one))


def _cut_short(element: Element) -> MeshError:
    rows = f"{element.count} rows of {element.name}"[:80]
    return MeshError(f"expected {rows} in the PLY; it is cut short")


def _binary_block(data: bytes, start: int, element: Element, order: str) -> tuple[Block, int]:
    """Read an element from binary data; give where it ends too."""
    lists = [one for one in element.properties if one.length]
    lengths = _lengths_in_row(data, start, element, order)
    row = _row_type(element, lengths, order)
    end = start + element.count * row.itemsize
    if end <= len(data):
        rows = np.frombuffer(data, row, element.count, start)
        if all((rows[_length_of(one)] == lengths[one.name]).all() for one in lists):
            return _block_of(rows, element), end
    if not lists:
        raise _cut_short(element)
    return _uneven_block(data, start, element, order)


def _length_of(one: Property) -> str:
    return f"length of {one.name}"


def _row_type(element: Element, lengths: dict[str, int], order: str) -> np.dtype[np.void]:
    fields: list[tuple[str, str] | tuple[str, str, tuple[int]]] = []
    for one in element.properties:
        if one.length:
            fields.append((_length_of(one), order + one.length))
            fields.append((one.name, order + one.kind, (lengths[one.name],)))
        else:
            fields.append((one.name, order + one.kind))
    try:
        return np.dtype(fields)
    except ValueError:
        raise MeshError(f"expected each property of {element.name} once in the PLY") from None


def _lengths_in_row(data: bytes, start: int, element: Element, order: str) -> dict[str, int]:
    """Lengths of the lists in the row that starts at `start`."""
    lengths = dict[str, int]()
    for one in element.properties if element.count else ():
        if one.length:
            kind = np.dtype(order + one.length)
            if start + kind.itemsize > len(data):
                raise _cut_short(element)
            lengths[one.name] = int(np.frombuffer(data, kind, 1, start)[0])
            start += kind.itemsize + lengths[one.name] * np.dtype(one.kind).itemsize
            if lengths[one.name] < 0 or start > len(data):
                raise _cut_short(element)
        else:
            start += np.dtype(one.kind).itemsize
    return {one.name: lengths.get(one.name, 0) for one in element.properties if one.length}


def _block_of(rows: npt.NDArray[np.void], element: Element) -> Block:
    columns, lists = dict[str, Array](), {}
    for one in element.properties:
        if one.length:
            items = rows[one.name]
            counts = np.full(len(rows), items.shape[1], dtype=np.int64)
            lists[one.name] = (items.astype(np.int64).ravel(), counts)
        else:
            columns[one.name] = rows[one.name].astype(np.float64)
    return Block(columns, lists)


def _uneven_block(data: bytes, start: int, element: Element, order: str) -> tuple[Block, int]:
    """Read an element whose lists are not all of one length, row by row."""
    found: dict[str, list[npt.NDArray[np.int64]]] = {}
    for _ in range(element.count):
        lengths = _lengths_in_row(data, start, element, order)
        row = _row_type(element, lengths, order)
        if start + row.itemsize > len(data):
            raise _cut_short(element)
        values = np.frombuffer(data, row, 1, start)
        for name in lengths:
            found.setdefault(name, []).append(values[name][0].astype(np.int64))
        start += row.itemsize
    lists = {
        name: (np.concatenate(items), np.array([len(item) for item in items], dtype=np.int64))
        for name, items in found.items()
    }
    return Block({}, lists), start


def _text_blocks(text: bytes, elements: list[Element]) -> dict[str, Block]:
    values, start, blocks = numbers(text, "the PLY"), 0, dict[str, Block]()
    for element in elements:
        if not element.properties:
            continue
        blocks[element.name], start = _text_block(values, start, element)
    return blocks


def _text_block(values: Array, start: int, element: Element) -> tuple[Block, int]:
    names = [one.name for one in element.properties]
    if not any(one.length for one in element.properties):
        end = start + element.count * len(names)
        if end > len(values):
            raise _cut_short(element)
        rows = values[start:end].reshape(element.count, len(names))
        return Block({name: rows[:, i] for i, name in enumerate(names)}, {}), end
    return _uneven_text_block(values, start, element)


def _uneven_text_block(values: Array, start: int, element: Element) -> tuple[Block, int]:
    """Read an element that has lists, row by row; only those of the corners of faces are kept."""
    spans, at = dict[str, list[tuple[int, int]]](), start
    for _ in range(element.count):
        for one in element.properties:
            length = values[at] if one.length and at < len(values) else 0
            at += 1
            if not 0 <= length <= len(values) - at:
                raise _cut_short(element)
            if one.length:
                spans.setdefault(one.name, []).append((at, at + int(length)))
                at += int(length)
    lists = {}
    for name in CORNERS:
        if name in spans:
            flat = np.concatenate([values[low:high] for low, high in spans[name]])
            counts = np.diff(np.array(spans[name]), axis=1)[:, 0].astype(np.int64)
            lists[name] = (whole_numbers(flat, "numbers of vertices"), counts)
    return Block({}, lists), at
