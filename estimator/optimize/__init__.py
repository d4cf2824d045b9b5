"""Machine classes and crews chosen over the whole job.

In: the job planned and priced run by run.
Out: the cheapest of it and its copies with other classes and crews, priced by the same stages.
May not know: the pipeline that calls it, shares of runs, sheets.
"""

from estimator.optimize.pick import cheapest, sentences

__all__ = [
    "cheapest",
    "sentences",
]
