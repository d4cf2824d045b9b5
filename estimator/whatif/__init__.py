"""What if: whole estimates of changed jobs, beside the base.

In: the estimate of the job as it stands.
Out: scenarios, options and machine classes side by side, each with its price, and what each own
assumption moves the price by; where crews share runs, a plan that is better by chance.
May not know: how results are shown.
"""

from estimator.whatif.joint_more import cheaper_with_a_joint_more
from estimator.whatif.options import assess
from estimator.whatif.scenarios import compare
from estimator.whatif.weighing import weigh, weigh_all

__all__ = ["assess", "cheaper_with_a_joint_more", "compare", "weigh", "weigh_all"]
