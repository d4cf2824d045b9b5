"""Compression of VBA source and directory streams, as MS-OVBA section 2.4.1 defines it."""

import struct
from collections import defaultdict

SIGNATURE = 0x01
CHUNK_BYTES = 4096
SHORTEST_COPY = 3
FEWEST_OFFSET_BITS = 4
TOKENS_IN_A_GROUP = 8
COMPRESSED_CHUNK, RAW_CHUNK = 0xB000, 0x3000
HEADER_BYTES, SIZE_BIAS = 2, 3


def compress(data: bytes) -> bytes:
    """Return bytes in the compressed form that VBA keeps its sources in.

    Parameters
    ----------
    data : bytes
        Content of a stream, of any length.

    Returns
    -------
    bytes
        A signature byte and one chunk for each 4,096 bytes. A chunk that does not shrink is
        stored raw and, as the format wants it, filled up with zero bytes.

    Source: MS-OVBA 2.4.1.3.6 (compression algorithm).
    """
    packed = bytearray([SIGNATURE])
    for start in range(0, len(data), CHUNK_BYTES):
        packed += _chunk(data[start : start + CHUNK_BYTES])
    return bytes(packed)


def _chunk(chunk: bytes) -> bytes:
    kind, body = COMPRESSED_CHUNK, _tokens(chunk)
    if len(body) > CHUNK_BYTES:
        kind, body = RAW_CHUNK, chunk.ljust(CHUNK_BYTES, b"\0")
    return struct.pack("<H", kind | (len(body) + HEADER_BYTES - SIZE_BIAS)) + body


def _tokens(chunk: bytes) -> bytes:
    """Return the token groups of a chunk: a flag byte, then up to eight literals or copies."""
    body = bytearray()
    finder = _CopyFinder(chunk)
    place = 0
    while place < len(chunk):
        flags, group = 0, bytearray()
        for bit in range(TOKENS_IN_A_GROUP):
            if place == len(chunk):
                break
            distance, length = finder.longest(place)
            if length:
                flags |= 1 << bit
                group += _copy_token(place, distance, length)
            else:
                length = 1
                group.append(chunk[place])
            finder.pass_over(place, length)
            place += length
        body.append(flags)
        body += group
    return bytes(body)


def _offset_bits(place: int) -> int:
    return max((place - 1).bit_length(), FEWEST_OFFSET_BITS)


def _longest_copy(place: int) -> int:
    return (0xFFFF >> _offset_bits(place)) + SHORTEST_COPY


def _copy_token(place: int, distance: int, length: int) -> bytes:
    length_bits = 16 - _offset_bits(place)
    return struct.pack("<H", (distance - 1) << length_bits | (length - SHORTEST_COPY))


class _CopyFinder:
    """Finds, for a place in a chunk, the longest earlier text that it repeats."""

    def __init__(self, chunk: bytes) -> None:
        self._chunk = chunk
        self._places: defaultdict[bytes, list[int]] = defaultdict(list)

    def longest(self, place: int) -> tuple[int, int]:
        """Return how far back the longest repeated text starts, and its length, 0 for none."""
        limit = min(_longest_copy(place), len(self._chunk) - place) if place else 0
        best_distance = best_length = 0
        for earlier in reversed(self._places.get(self._start(place), ())):
            length = self._common(earlier, place, limit)
            if length > best_length:
                best_distance, best_length = place - earlier, length
                if length == limit:
                    break
        return best_distance, best_length

    def pass_over(self, place: int, length: int) -> None:
        """Remember where the texts start that later ones may repeat."""
        for start in range(place, place + length):
            self._places[self._start(start)].append(start)

    def _start(self, place: int) -> bytes:
        return self._chunk[place : place + SHORTEST_COPY]

    def _common(self, earlier: int, place: int, limit: int) -> int:
        length = 0
        while length < limit and self._chunk[earlier + length] == self._chunk[place + length]:
            length += 1
        return length if length >= SHORTEST_COPY else 0
