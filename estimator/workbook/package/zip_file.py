"""The zip file around a workbook: members are read at need and kept as compressed bytes."""

import io
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from estimator.data_class import dataclass
from estimator.errors import WorkbookError
from estimator.files import BACKUP_MARK

OLE2_SIGNATURE = bytes.fromhex("D0CF11E0A1B11AE1")
ZIP_SIGNATURES = (b"PK\x03\x04", b"PK\x05\x06")
MOST_BYTES_READ = 1 << 29
"""Budget of unpacked bytes of all parts of a file that are read."""
LARGE_PART = 1 << 18
QUICK, SMALL = 1, 6
"""Levels of compression: of large parts, and of all others."""

_LOCAL = struct.Struct("<4s5H3L2H")
_CENTRAL = struct.Struct("<4s6H3L5H2L")
_END = struct.Struct("<4s4H2LH")
_ENCRYPTED, _DESCRIPTOR, _UTF8 = 0x1, 0x8, 0x800
_ZIP64_EXTRA = 1
_ZIP32_LIMIT, _MOST_MEMBERS = 0xFFFFFFFF, 0xFFFF
_JANUARY_1980 = (0, 0x21)
_NOT_READABLE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError)


@dataclass(frozen=True)
class Member:
    """One member as it is stored: the fields of its directory entry and its compressed bytes."""

    name: str
    data: bytes | memoryview
    flags: int
    method: int
    stamp: tuple[int, int]
    crc: int
    size: int
    extra: bytes = b""
    comment: bytes = b""
    made_by: int = 20
    needs: int = 20
    internal: int = 0
    external: int = 0

    @property
    def raw_name(self) -> bytes:
        """The name as its bytes stand in the file."""
        return self.name.encode("utf-8" if self.flags & _UTF8 else "cp437")

    def with_content(self, content: "bytes | Packed") -> "Member":
        """Return this member with other content; its place in the file and its date stay."""
        fresh = new_member(self.name, content)
        return replace(fresh, stamp=self.stamp, made_by=self.made_by, external=self.external)


def must_unpack_within_budget(data: bytes) -> None:
    """Refuse a zip file that unpacks as a whole to more than the budget; others pass.

    Raises
    ------
    WorkbookError
        If it does, or is damaged.
    """
    if not zipfile.is_zipfile(io.BytesIO(data)):
        return
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as members:
            size = sum(one.file_size for one in members.infolist())
    except _NOT_READABLE as error:
        raise WorkbookError(f"The file is damaged and cannot be opened: {error}") from error
    if size > MOST_BYTES_READ:
        most = MOST_BYTES_READ >> 20
        raise WorkbookError(f"The file unpacks to more than {most} MiB and was not read")


class ZipMembers:
    """The members of a zip file, in their order.

    Parameters
    ----------
    data : bytes
        The whole file.

    Raises
    ------
    WorkbookError
        If it is no zip file, is damaged or encrypted, or names a member twice.
    """

    def __init__(self, data: bytes) -> None:
        _refuse_other_files(data)
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(data))
        except _NOT_READABLE as error:
            raise WorkbookError(f"The file is damaged and cannot be opened: {error}") from error
        self._data = memoryview(data)
        self._infos = {info.orig_filename: info for info in self._zip.infolist()}
        self._by_folded_name = {name.casefold(): name for name in self._infos}
        self._sizes_read: dict[str, int] = {}
        if len(self._by_folded_name) != len(self._zip.infolist()):
            raise WorkbookError("The file is damaged: it holds two parts of the same name")
        if any(info.flag_bits & _ENCRYPTED for info in self._infos.values()):
            raise WorkbookError("The file is encrypted. Save it without a password")

    def names(self) -> tuple[str, ...]:
        """Return the names of all members in their order."""
        return tuple(self._infos)

    def actual_name(self, name: str) -> str | None:
        """Return a member's name as it is spelled in the file; any case finds it."""
        return self._by_folded_name.get(name.casefold())

    def read(self, name: str) -> bytes:
        """Return the content of a member.

        Raises
        ------
        WorkbookError
            If there is none of that name, it is damaged, or what was read so far and this
            together would unpack to more than the budget.
        """
        actual = self.actual_name(name)
        if actual is None:
            raise WorkbookError(f"The file is damaged: its part {name} is missing")
        self._sizes_read[actual] = self._infos[actual].file_size
        if sum(self._sizes_read.values()) > MOST_BYTES_READ:
            raise WorkbookError(
                f"The file unpacks to more than {MOST_BYTES_READ >> 20} MiB as far as its part "
                f"{actual} and was not read"
            )
        try:
            return self._zip.read(self._infos[actual])
        except _NOT_READABLE as error:
            raise WorkbookError(f"The file is damaged in its part {actual}: {error}") from error

    def comment(self) -> bytes:
        """Return the comment of the zip file."""
        return self._zip.comment

    def members(self) -> Iterator[Member]:
        """Yield every member as it is stored.

        Raises
        ------
        WorkbookError
            If the file is damaged or cut off.
        """
        for info in self._infos.values():
            yield self._member(info)

    def _member(self, info: zipfile.ZipInfo) -> Member:
        fixed = self._data[info.header_offset : info.header_offset + _LOCAL.size]
        if len(fixed) < _LOCAL.size or bytes(fixed[:4]) != b"PK\x03\x04":
            raise WorkbookError(f"The file is damaged in its part {info.filename}")
        *_, name_length, extra_length = _LOCAL.unpack(fixed)
        start = info.header_offset + _LOCAL.size + name_length + extra_length
        data = self._data[start : start + info.compress_size]
        if len(data) < info.compress_size:
            raise WorkbookError(f"The file is truncated in its part {info.filename}")
        return Member(
            name=info.orig_filename,
            data=data,
            flags=info.flag_bits & ~_DESCRIPTOR,
            method=info.compress_type,
            stamp=_stamp(info.date_time),
            crc=info.CRC,
            size=info.file_size,
            extra=_without_zip64(info.extra),
            comment=info.comment,
            made_by=info.create_system << 8 | info.create_version,
            needs=info.extract_version,
            internal=info.internal_attr,
            external=info.external_attr,
        )


@dataclass(frozen=True)
class Packed:
    """Content of a member, compressed."""

    data: bytes
    crc: int
    size: int


class Packer:
    """Packs text that comes in pieces; what is large is packed quickly, the rest small."""

    def __init__(self) -> None:
        self._pieces: list[str] = []
        self._letters, self._size, self._crc = 0, 0, 0
        self._done: list[bytes] = []
        self._zip: zlib._Compress | None = None

    def add(self, text: str) -> None:
        """Add a piece of text."""
        self._pieces.append(text)
        self._letters += len(text)
        if self._letters > LARGE_PART:
            self._pack(QUICK)

    def finish(self) -> Packed:
        """Return all of it."""
        stream = self._pack(SMALL)
        return Packed(b"".join(self._done) + stream.flush(), self._crc, self._size)

    def _pack(self, level: int) -> "zlib._Compress":
        content = "".join(self._pieces).encode("utf-8")
        self._pieces, self._letters = [], 0
        self._size += len(content)
        self._crc = zlib.crc32(content, self._crc)
        if self._zip is None:
            self._zip = _stream(level)
        self._done.append(self._zip.compress(content))
        return self._zip


def pack(content: bytes) -> Packed:
    """Return content compressed, always the same bytes for the same content."""
    stream = _stream(QUICK if len(content) > LARGE_PART else SMALL)
    return Packed(stream.compress(content) + stream.flush(), zlib.crc32(content), len(content))


def _stream(level: int) -> "zlib._Compress":
    return zlib.compressobj(level, zlib.DEFLATED, -zlib.MAX_WBITS)


def new_member(name: str, content: bytes | Packed) -> Member:
    """Return a compressed member."""
    packed = pack(content) if isinstance(content, bytes) else content
    return Member(
        name=name,
        data=packed.data,
        flags=0 if name.isascii() else _UTF8,
        method=zipfile.ZIP_DEFLATED,
        stamp=_JANUARY_1980,
        crc=packed.crc,
        size=packed.size,
    )


def write_zip(members: Sequence[Member], comment: bytes = b"") -> bytes:
    """Return a zip file of these members, compressed bytes as they are.

    Raises
    ------
    WorkbookError
        If it would need more than 4 GiB or 65,535 members.
    """
    out = io.BytesIO()
    directory = []
    for member in members:
        offset = out.tell()
        if max(offset, member.size) >= _ZIP32_LIMIT:
            raise WorkbookError("The workbook would be larger than 4 GiB")
        name, extra = member.raw_name, member.extra
        shared = (
            member.flags, member.method, *member.stamp,
            member.crc, len(member.data), member.size, len(name),
        )  # fmt: skip
        out.write(_LOCAL.pack(b"PK\x03\x04", member.needs, *shared, 0))
        out.write(name)
        out.write(member.data)
        rest = (len(extra), len(member.comment), 0, member.internal, member.external, offset)
        head = _CENTRAL.pack(b"PK\x01\x02", member.made_by, member.needs, *shared, *rest)
        directory.append(head + name + extra + member.comment)
    _write_directory(out, directory, comment)
    return out.getvalue()


def _write_directory(out: io.BytesIO, directory: Sequence[bytes], comment: bytes) -> None:
    offset, size, count = out.tell(), sum(map(len, directory)), len(directory)
    if offset + size >= _ZIP32_LIMIT or count >= _MOST_MEMBERS:
        raise WorkbookError("The workbook would be larger than 4 GiB")
    out.writelines(directory)
    out.write(_END.pack(b"PK\x05\x06", 0, 0, count, count, size, offset, len(comment)))
    out.write(comment)


def replace_members(
    source: ZipMembers, changed: Mapping[str, bytes | Packed], dropped: frozenset[str]
) -> bytes:
    """Return the file with some members replaced, added after the last one, or left out.

    Parameters
    ----------
    source : ZipMembers
        The file as it was.
    changed : mapping
        New content by member name.
    dropped : frozenset of str
        Members to leave out, unless they are in ``changed`` too.

    Notes
    -----
    A backup that is put back loses the mark of one.
    """
    members = []
    left = dict(changed)
    for member in source.members():
        content = left.pop(member.name, None)
        if content is not None:
            members.append(member.with_content(content))
        elif member.name not in dropped:
            members.append(member)
    members += [new_member(name, content) for name, content in left.items()]
    return write_zip(members, source.comment().removesuffix(BACKUP_MARK))


def _refuse_other_files(data: bytes) -> None:
    if data.startswith(OLE2_SIGNATURE):
        raise WorkbookError(
            "The file is password-protected or an old .xls. Save it as .xlsx without a password"
        )
    if not data.startswith(ZIP_SIGNATURES):
        raise WorkbookError("The file is not an .xlsx or .xlsm workbook")


def _stamp(moment: tuple[int, int, int, int, int, int]) -> tuple[int, int]:
    year, month, day, hour, minute, second = moment
    return hour << 11 | minute << 5 | second // 2, (year - 1980) << 9 | month << 5 | day


def _without_zip64(extra: bytes) -> bytes:
    kept, at = b"", 0
    while at + 4 <= len(extra):
        kind, length = struct.unpack_from("<HH", extra, at)
        if kind != _ZIP64_EXTRA:
            kept += extra[at : at + 4 + length]
        at += 4 + length
    return kept
