"""Ranges of finish and price.

In: the job with its estimate, and the ranges of its inputs.
Out: finish and price at stated chances, and what moves them.
May not know: sheets, scenarios or options.
"""

from estimator.risk.figures import assess_ranges

__all__ = ["assess_ranges"]
