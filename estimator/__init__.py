"""Job estimator for butt fusion of polyethylene pipe.

``read_workbook`` gives a checked job, ``estimate`` works it out, ``write_workbook`` puts the
results back. ``estimate`` needs no workbook: any ``Job`` will do. Names are loaded when first
used, so that one formula does not pay for the whole.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from estimator.version import VERSION as __version__

if TYPE_CHECKING:
    from estimator.api import estimate_workbook, read_workbook, write_workbook
    from estimator.errors import (
        EstimatorError,
        InputError,
        OutsideStandardError,
        Problem,
        UnknownNameError,
        WorkbookError,
    )
    from estimator.export.as_json import to_dict
    from estimator.export.schema import json_schema
    from estimator.export.tables import Tables, tables, to_pandas
    from estimator.models.estimate import Estimate
    from estimator.models.job import Job
    from estimator.python_api import estimate

__all__ = [
    "Estimate",
    "EstimatorError",
    "InputError",
    "Job",
    "OutsideStandardError",
    "Problem",
    "Tables",
    "UnknownNameError",
    "WorkbookError",
    "__version__",
    "estimate",
    "estimate_workbook",
    "json_schema",
    "read_workbook",
    "tables",
    "to_dict",
    "to_pandas",
    "write_workbook",
]

_HOMES = {
    "api": ("estimate_workbook", "read_workbook", "write_workbook"),
    "errors": (
        "EstimatorError",
        "InputError",
        "OutsideStandardError",
        "Problem",
        "UnknownNameError",
        "WorkbookError",
    ),
    "models.estimate": ("Estimate",),
    "models.job": ("Job",),
    "python_api": ("estimate",),
    "export.as_json": ("to_dict",),
    "export.schema": ("json_schema",),
    "export.tables": ("Tables", "tables", "to_pandas"),
}


def __getattr__(name: str) -> object:
    for module, names in _HOMES.items():
        if name in names:
            return getattr(import_module(f"estimator.{module}"), name)
    message = f"module 'estimator' has no attribute {name!r}"
    raise AttributeError(message)
