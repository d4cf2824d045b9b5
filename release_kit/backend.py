"""The build backend: setuptools, and a source archive that holds the same bytes every time.

A wheel already takes its dates from ``SOURCE_DATE_EPOCH``; the archive that setuptools makes takes
those of the files and of the clock. Here it is packed again in order of names, with one date for
all and no owner.
"""

import gzip
import io
import os
import tarfile
from pathlib import Path
from typing import Any

from setuptools import build_meta
from setuptools.build_meta import (
    build_editable,
    build_wheel,
    get_requires_for_build_editable,
    get_requires_for_build_sdist,
    get_requires_for_build_wheel,
    prepare_metadata_for_build_editable,
    prepare_metadata_for_build_wheel,
)

__all__ = [
    "build_editable",
    "build_sdist",
    "build_wheel",
    "get_requires_for_build_editable",
    "get_requires_for_build_sdist",
    "get_requires_for_build_wheel",
    "prepare_metadata_for_build_editable",
    "prepare_metadata_for_build_wheel",
]

EPOCH = "SOURCE_DATE_EPOCH"


def build_sdist(folder: str, settings: dict[str, Any] | None = None) -> str:
    """Build the source archive; with ``SOURCE_DATE_EPOCH`` its bytes rest on the files alone."""
    name = str(build_meta.build_sdist(folder, settings))
    if EPOCH in os.environ:
        path = Path(folder) / name
        path.write_bytes(packed_again(path.read_bytes(), int(os.environ[EPOCH])))
    return name


def packed_again(archive: bytes, date: int) -> bytes:
    """Return an archive with its members in order, of one date, of nobody."""
    packed = io.BytesIO()
    with (
        tarfile.open(fileobj=io.BytesIO(archive), mode="r:gz") as old,
        tarfile.open(fileobj=packed, mode="w", format=tarfile.PAX_FORMAT) as new,
    ):
        for member in sorted(old.getmembers(), key=lambda one: one.name):
            content = old.extractfile(member) if member.isfile() else None
            member.mtime, member.uid, member.gid, member.uname, member.gname = date, 0, 0, "", ""
            member.mode = 0o755 if member.isdir() or member.mode & 0o100 else 0o644
            member.pax_headers = {}
            new.addfile(member, content)
    return gzip.compress(packed.getvalue(), mtime=date)
