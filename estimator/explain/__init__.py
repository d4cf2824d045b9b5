"""One run explained from its schedule row to its price.

In: an estimate and a run of it.
Out: steps, each with its text, its numbers and its source.
May not know: sheets or the command line.
"""

from estimator.explain.one_run import explain

__all__ = [
    "explain",
]
