"""Warnings: a second look at a finished estimate, which stops nothing.

In: the job and everything worked out for it.
Out: warnings, each with the cell of its input.
May not know: how to change the estimate.
"""

from estimator.warnings.checks import with_warnings
from estimator.warnings.limits import free_classes, stock_exceeded

__all__ = ["free_classes", "stock_exceeded", "with_warnings"]
