"""Writes a compound file: a small file system of storages and streams in one file.

Only what a VBA project needs of MS-CFB version 3: sectors of 512 bytes, at most 109 sectors of
allocation table (7 MB), no class identifiers and no dates, so that the same content always
gives the same bytes.
"""

import struct
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Union

Tree = Mapping[str, Union[bytes, "Tree"]]
"""Content of a storage: streams as bytes, storages as a tree of their own."""

SECTOR, MINI_SECTOR, SMALLEST_LARGE_STREAM = 512, 64, 4096
ENTRY_BYTES, LONGEST_NAME = 128, 31
END_OF_CHAIN, FREE, TABLE_SECTOR, NO_STREAM = 0xFFFFFFFE, 0xFFFFFFFF, 0xFFFFFFFD, 0xFFFFFFFF
UNUSED, STORAGE, STREAM, ROOT = 0, 1, 2, 5
BLACK = 1
TABLES_IN_HEADER = 109
SIGNATURE = bytes.fromhex("D0CF11E0A1B11AE1")
MINOR_VERSION, MAJOR_VERSION, LITTLE_ENDIAN, SECTOR_SHIFT, MINI_SHIFT = 0x3E, 3, 0xFFFE, 9, 6
HEADER = struct.Struct("<8s16xHHHHH6xIIIIIIIII109I")
ENTRY = struct.Struct("<64sHBBIII16xI16xIQ")


def write_compound_file(tree: Tree) -> bytes:
    """Return a compound file that holds a tree of streams.

    Parameters
    ----------
    tree : mapping
        Content of the root storage by name.

    Raises
    ------
    ValueError
        If a name is empty or longer than 31 letters, or the content is too large.
    """
    entries = _Directory(tree).entries
    sectors = _Sectors()
    _place_streams(entries, sectors)
    mini_table = sectors.mini_table()
    mini_table_sectors = -(-len(mini_table) // SECTOR)
    mini_table_start = sectors.store(mini_table)
    directory_start = sectors.store(b"".join(entry.to_bytes() for entry in entries), UNUSED_ENTRY)
    table_start = len(sectors.chain)
    table = sectors.allocation_table()
    tables = len(table) // SECTOR
    places = [table_start + n if n < tables else FREE for n in range(TABLES_IN_HEADER)]
    header = HEADER.pack(
        SIGNATURE, MINOR_VERSION, MAJOR_VERSION, LITTLE_ENDIAN, SECTOR_SHIFT, MINI_SHIFT,
        0, tables, directory_start, 0, SMALLEST_LARGE_STREAM,
        mini_table_start, mini_table_sectors, END_OF_CHAIN, 0, *places,
    )  # fmt: skip
    return header + sectors.content + table


@dataclass
class _Entry:
    """One line of the directory; ``left``, ``right`` and ``child`` are numbers of other lines."""

    name: str
    kind: int
    content: bytes = b""
    left: int = NO_STREAM
    right: int = NO_STREAM
    child: int = NO_STREAM
    start: int = 0
    size: int = 0

    def to_bytes(self) -> bytes:
        name = (self.name + "\0").encode("utf-16-le") if self.name else b""
        return ENTRY.pack(
            name, len(name), self.kind, BLACK, self.left, self.right, self.child,
            0, self.start, self.size,
        )  # fmt: skip


UNUSED_ENTRY = _Entry("", UNUSED).to_bytes()


class _Directory:
    """The directory: every storage and stream, those of one storage as a search tree."""

    def __init__(self, tree: Tree) -> None:
        self.entries = [_Entry("Root Entry", ROOT)]
        self._fill(self.entries[0], tree)

    def _fill(self, storage: _Entry, tree: Tree) -> None:
        numbers = [self._add(name, tree[name]) for name in sorted(tree, key=_order)]
        storage.child = self._link(numbers)
        for number in numbers:
            entry = self.entries[number]
            content = tree[entry.name]
            if not isinstance(content, bytes):
                self._fill(entry, content)

    def _add(self, name: str, content: bytes | Tree) -> int:
        if not 0 < len(name) <= LONGEST_NAME:
            raise ValueError(f"stream name must have 1 to {LONGEST_NAME} letters, got {name!r}")
        if isinstance(content, bytes):
            entry = _Entry(name, STREAM, content, size=len(content))
        else:
            entry = _Entry(name, STORAGE)
        self.entries.append(entry)
        return len(self.entries) - 1

    def _link(self, numbers: list[int]) -> int:
        """Join sorted entries into a balanced search tree and return its top."""
        if not numbers:
            return NO_STREAM
        middle = len(numbers) // 2
        top = self.entries[numbers[middle]]
        top.left = self._link(numbers[:middle])
        top.right = self._link(numbers[middle + 1 :])
        return numbers[middle]


def _order(name: str) -> tuple[int, str]:
    """Sort shorter names first, then by capital letters: the order of the format."""
    return len(name.encode("utf-16-le")), name.upper()


@dataclass
class _Sectors:
    """The sectors as they fill up, and the chain that joins them into streams."""

    content: bytearray = field(default_factory=bytearray)
    chain: list[int] = field(default_factory=list)
    mini_content: bytearray = field(default_factory=bytearray)
    mini_chain: list[int] = field(default_factory=list)

    def store(self, data: bytes, filler: bytes = b"\0") -> int:
        """Store data in sectors of its own and return the first one."""
        return _append(data, filler, SECTOR, self.content, self.chain)

    def store_small(self, data: bytes) -> int:
        """Store data in small sectors of its own and return the first one."""
        return _append(data, b"\0", MINI_SECTOR, self.mini_content, self.mini_chain)

    def mini_table(self) -> bytes:
        """Return the chain of the small sectors, in whole sectors."""
        return _packed(self.mini_chain)

    def allocation_table(self) -> bytes:
        """Return the chain of all sectors, those of this table included."""
        numbers_each = SECTOR // 4
        tables = 1
        while -(-(len(self.chain) + tables) // numbers_each) > tables:
            tables += 1
        if tables > TABLES_IN_HEADER:
            raise ValueError(f"a compound file holds 7 MB here, got {len(self.content)} bytes")
        return _packed([*self.chain, *[TABLE_SECTOR] * tables])


def _append(data: bytes, filler: bytes, size: int, content: bytearray, chain: list[int]) -> int:
    if not data:
        return END_OF_CHAIN
    start, count = len(chain), -(-len(data) // size)
    missing = count * size - len(data)
    content += data + filler * (missing // len(filler))
    chain += [*range(start + 1, start + count), END_OF_CHAIN]
    return start


def _packed(chain: list[int]) -> bytes:
    data = struct.pack(f"<{len(chain)}I", *chain)
    return data + b"\xff" * (-len(data) % SECTOR)


def _place_streams(entries: list[_Entry], sectors: _Sectors) -> None:
    """Give every stream its first sector; small ones share the stream of the root entry."""
    for entry in entries:
        if entry.kind == STREAM:
            small = entry.size < SMALLEST_LARGE_STREAM
            entry.start = (sectors.store_small if small else sectors.store)(entry.content)
    entries[0].size = len(sectors.mini_content)
    entries[0].start = sectors.store(bytes(sectors.mini_content))
