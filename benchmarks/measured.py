"""Runs a command in a process of its own and says what it took; and on what machine."""

import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
PYTHON = sys.executable
COMMAND = (PYTHON, "-m", "estimator")


class Taken(NamedTuple):
    """Processor time of a run, user and system, in seconds; the most memory in MB; its output."""

    cpu_s: float
    peak_mb: float
    output: str


def once(command: Sequence[str]) -> Taken:
    """Run a command and return what it took; raises where it fails."""
    with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
        process = subprocess.Popen(command, stdout=out, stderr=err, cwd=ROOT, env=compiled())
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        if process.returncode:
            raise RuntimeError(f"{' '.join(command)}: {err.read() or out.read()}")
        return Taken(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out.read())


def least(command: Sequence[str], times: int) -> Taken:
    """Run a command some times; return the least time with the most memory."""
    every = [once(command) for _ in range(times)]
    best = min(every, key=lambda taken: taken.cpu_s)
    return best._replace(peak_mb=max(taken.peak_mb for taken in every))


def compiled() -> dict[str, str]:
    """Return an environment in which modules are compiled once and kept, as installed ones are."""
    return {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}


def machine() -> str:
    """Return what the measuring machine is, in a line."""
    cores = os.cpu_count() or 1
    load = os.getloadavg()[0]
    return (
        f"{_processor()}, {cores} cores, {platform.system()} {platform.machine()}, "
        f"Python {platform.python_version()}, load {load:.1f} when it began"
    )


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if info.exists():
        for line in info.read_text("utf-8").splitlines():
            name, _, value = line.partition(":")
            if name.strip() == "model name":
                return value.strip()
    return platform.processor() or "processor unknown"
