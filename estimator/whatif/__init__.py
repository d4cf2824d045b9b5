"""What if: whole estimates of changed jobs, beside the base.

In: the estimate of the job as it stands.
Out: scenarios, options and machine classes side by side, each with its price, and what each own
assumption moves the price by; where crews share runs, a plan that is better by chance.
May not know: how results are shown.
"""

from estimator.whatif.joint_more import cheaper_with_a_joint_more
from estimator.whatif.options import assess, impossible, sentences
from estimator.whatif.scenarios import base_outcome, compare
from estimator.whatif.weighing import weigh, weigh_all

__all__ = [
    "assess",
    "base_outcome",
    "cheaper_with_a_joint_more",
    "compare",
    "impossible",
    "sentences",
    "weigh",
    "weigh_all",
]
