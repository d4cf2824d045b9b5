"""What if: whole estimates of changed jobs, beside the base.

In: the estimate of the job as it stands.
Out: scenarios, options and machine classes side by side, each with its price.
May not know: how results are shown.
"""

from estimator.whatif.options import assess
from estimator.whatif.scenarios import compare

__all__ = ["assess", "compare"]
