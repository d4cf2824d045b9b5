"""The systems that there is a kit for, and what is installed on each."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from packaging.requirements import Requirement

PYTHONS = ("3.11", "3.12", "3.13", "3.14")
BUILD_ONLY = frozenset({"setuptools", "wheel"})
"""Packages of the list that only an installation from sources needs."""


@dataclass(frozen=True)
class System:
    """A kind of computer.

    ``tags`` are the platforms of the packages that it takes, ``marked`` what the conditions in
    the list of packages ask for. ``machine`` is what Python there calls the processor. Windows
    is named by the scripts that it needs.
    """

    name: str
    label: str
    platform: str
    machine: str
    tags: tuple[str, ...]
    marked: Mapping[str, str]

    @property
    def scripts(self) -> str:
        """Ending of the scripts that are started by a double click."""
        return ".cmd" if self.platform == "win32" else ".command"


SYSTEMS = {
    system.name: system
    for system in (
        System(
            "windows-x64", "64-bit Windows", "win32", "amd64", ("win_amd64",),
            {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt"},
        ),
        System(
            "mac-arm64", "Mac with Apple silicon", "darwin", "arm64", ("macosx_13_0_arm64",),
            {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix"},
        ),
        System(
            "linux-x64", "64-bit Linux", "linux", "x86_64",
            ("manylinux_2_28_x86_64", "manylinux_2_27_x86_64", "manylinux2014_x86_64"),
            {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix"},
        ),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Pinned:
    """A package of the list: its name, version and hashes."""

    name: str
    version: str
    hashes: tuple[str, ...]

    @property
    def line(self) -> str:
        """The line of a list that pip installs by."""
        return " ".join([f"{self.name}=={self.version}", *self.hashes])


def pinned_for(system: System, listed: str) -> Iterator[Pinned]:
    """Yield what a system needs of a pinned list; its conditions are worked out for that system.

    >>> listed = "a==1 ; sys_platform == 'win32'  --hash=sha256:0"
    >>> [name for name in SYSTEMS if list(pinned_for(SYSTEMS[name], listed))]
    ['windows-x64']
    """
    for block in re.split(r"^(?=[\w.-]+==)", listed, flags=re.MULTILINE)[1:]:
        needed = Requirement(re.split(r"\\|#|--", block, maxsplit=1)[0].strip())
        wanted = needed.marker is None or needed.marker.evaluate(dict(system.marked))
        if wanted and needed.name not in BUILD_ONLY:
            version = str(needed.specifier).removeprefix("==")
            yield Pinned(needed.name, version, tuple(re.findall(r"--hash=\S+", block)))
