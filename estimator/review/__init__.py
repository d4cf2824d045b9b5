"""Second look at a finished estimate.

In: the job and everything worked out for it.
Out: warnings, each with the cell of its input.
May not know: how to change the estimate.
"""

from estimator.review.checks import with_warnings
from estimator.review.limits import free_classes, stock_exceeded

__all__ = ["free_classes", "stock_exceeded", "with_warnings"]
