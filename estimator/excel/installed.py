"""What is installed in this Python for Excel, found out without importing any of it."""

import importlib.metadata
import importlib.util
import struct
import sys

from estimator.data_class import dataclass
from estimator.errors import EstimatorError

NEEDED = "xlwings>=0.37.5"
SLOW_TO_START = ("pandas", "matplotlib")


@dataclass(frozen=True)
class Python:
    """A Python interpreter that Excel can start.

    ``starts`` is the interpreter that an environment's own one starts in its turn.
    """

    path: str
    version: str
    bits: int
    slow_packages: tuple[str, ...]
    starts: str = ""


def this_python() -> Python:
    """Return the Python that is running.

    Raises
    ------
    EstimatorError
        If it does not know where it is, as inside another program.
    """
    if not sys.executable:
        raise EstimatorError("This Python does not know its own path. Run the command from a venv")
    found = tuple(name for name in SLOW_TO_START if importlib.util.find_spec(name) is not None)
    version = ".".join(str(number) for number in sys.version_info[:3])
    base: str = getattr(sys, "_base_executable", sys.executable)
    starts = "" if base == sys.executable else base
    return Python(sys.executable, version, 8 * struct.calcsize("P"), found, starts)


def is_installed() -> bool:
    """Return whether xlwings is installed in this Python."""
    return importlib.util.find_spec("xlwings") is not None


def xlwings_version() -> str:
    """Return the version of xlwings that is installed in this Python.

    Raises
    ------
    EstimatorError
        If it is not; the text says what to run.
    """
    return _distribution().version


def xlwings_file(name: str) -> bytes:
    """Return a file of the installed xlwings package.

    Parameters
    ----------
    name : str
        Path inside the package, such as ``xlwings.bas``.

    Raises
    ------
    EstimatorError
        If xlwings is not installed, or its version has no such file.
    """
    distribution = _distribution()
    file = importlib.metadata.PackagePath("xlwings", name)
    file.dist = distribution
    try:
        return file.read_binary()
    except OSError as error:
        message = f"xlwings {distribution.version} has no file {name}. Install another version"
        raise EstimatorError(message) from error


def _distribution() -> importlib.metadata.Distribution:
    try:
        return importlib.metadata.distribution("xlwings")
    except importlib.metadata.PackageNotFoundError as error:
        message = (
            "xlwings, which connects Excel to Python, is not installed in this Python. "
            "In the project's folder run: "
            f'"{sys.executable}" -m pip install --require-hashes -r constraints/excel.txt '
            f'(without pinned versions: "{NEEDED}", which is the extra named excel)'
        )
        raise EstimatorError(message) from error
