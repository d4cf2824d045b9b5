"""Runs a command in a process of its own and says what it took; and on what machine.

The processes are started by a small one, this file run as a program: the most memory of a process
counts that of the one which started it.
"""

import json
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from functools import cache
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


@cache
def _starter() -> "subprocess.Popen[str]":
    """Start the small process; modules are compiled once and kept, as installed ones are."""
    kept = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    pipe = subprocess.PIPE
    command = [PYTHON, "-S", __file__]
    return subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True, cwd=ROOT, env=kept)


def once(command: Sequence[str]) -> Taken:
    """Run a command and return what it took; raises where it fails."""
    starter = _starter()
    assert starter.stdin is not None
    assert starter.stdout is not None
    starter.stdin.write(json.dumps(command) + "\n")
    starter.stdin.flush()
    code, *taken = json.loads(starter.stdout.readline())
    if code:
        raise RuntimeError(f"{' '.join(command)}: {taken[-1]}")
    return Taken(*taken)


def least(command: Sequence[str], times: int) -> Taken:
    """Run a command some times; return the least time with the most memory."""
    return least_of([once(command) for _ in range(times)])


def least_of(every: Sequence[Taken]) -> Taken:
    """Return the least time of some runs with the most memory."""
    best = min(every, key=lambda taken: taken.cpu_s)
    return best._replace(peak_mb=max(taken.peak_mb for taken in every))


def machine() -> str:
    """Return what the measuring machine is, in a line."""
    cores, load = os.cpu_count() or 1, os.getloadavg()[0]
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


def _run(command: Sequence[str]) -> tuple[int, float, float, str]:
    """Run a command; return its exit code, processor time, most memory, and what it said."""
    with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as err:
        process = subprocess.Popen(command, stdout=out, stderr=err)
        _, status, used = os.wait4(process.pid, 0)
        code = process.returncode = os.waitstatus_to_exitcode(status)
        reported = err if code else out
        reported.seek(0)
        return code, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, reported.read()


if __name__ == "__main__":
    for asked in sys.stdin:
        sys.stdout.write(json.dumps(_run(json.loads(asked))) + "\n")
        sys.stdout.flush()
