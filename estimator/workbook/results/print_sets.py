"""Which sheets each reader is handed, and the copy of a workbook that prints them alone."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from estimator.errors import InputError, Problem
from estimator.workbook.package.package import Package
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.results.left_out_page import is_left_out
from estimator.workbook.results.light import OK, SERIOUS
from estimator.workbook.results.risk_sheet import NO_FIGURES

READERS: Mapping[str, Sequence[str]] = MappingProxyType(
    {
        "client": ("Bid", "Bid schedule"),
        "manager": ("Joint counts", "Plan by week", "Look-ahead", "Gantt", "Hydrotests", "Status",
                    "Gantt with actuals", "Log summary"),
        "buyer": ("Equipment", "Request machines", "Request generators", "Request lifting",
                  "Quote comparison"),
        "foreman": ("Joint parameters", "Look-ahead", "Field cards", "Log pages"),
        "office": ("Basis of estimate", "Price build-up", "Item prices", "Cost", "Risk"),
    }
)  # fmt: skip
"""Sheets by reader, under our own names; those that a workbook does not have are left out."""
NOT_ESTIMATED = "Not estimated yet"
"""How the third line of a result sheet begins that was never estimated."""
LOOK = "Checks"
NOT_KNOWN = (
    "the check status has no saved result, so it is not known whether the inputs changed since the "
    "estimate. Run: estimator estimate FILE"
)
FINE = (OK, SERIOUS, "Read the warnings on Checks")
"""The check status of a workbook that can be printed; the last is that of earlier versions."""


def print_set(data: bytes, reader: str) -> tuple[bytes, tuple[str, ...]]:
    """Return a copy of a workbook that prints the sheets of a reader, and their names in it.

    Raises
    ------
    InputError
        If the workbook has none of them, or was never estimated.
    """
    package = Package.open(data)
    there = package.sheet_names()
    source = FileSource(data)
    keys = [key for key in READERS[reader] if not _is_empty(source, key)]
    names = [package.result_sheet_name(key) for key in keys]
    shown = tuple(name for name in there if name in names)
    if not shown:
        wanted = ", ".join(READERS[reader])
        raise InputError([Problem("--for", f"{reader}: the workbook has none of {wanted}")])
    return package.with_only(shown), shown


def _is_empty(source: FileSource, key: str) -> bool:
    """Return whether a sheet was left out, or says only why it has no figures, as Basis does."""
    found = source.result_values(key)
    return found is not None and (is_left_out(found[1]) or _has_no_figures(found[1]))


def _has_no_figures(values: Sequence[Sequence[object]]) -> bool:
    return any(str(cell).startswith(NO_FIGURES) for row in values[2:4] for cell in row)


def never_estimated(values: Sequence[Sequence[object]]) -> bool:
    """Return whether a result sheet still says that it was never estimated."""
    return any(str(cell).startswith(NOT_ESTIMATED) for row in values[:3] for cell in row)


def status_to_show(values: Sequence[Sequence[object]]) -> str:
    """Return the check status on the Checks sheet where it calls for a new estimate."""
    status = str(values[2][1]) if len(values) > 2 and len(values[2]) > 1 else ""
    return "" if status in FINE else status or NOT_KNOWN
