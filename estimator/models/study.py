"""An estimate with the questions around it: ranges, options and scenarios."""

from estimator.data_class import dataclass
from estimator.models.assumptions import AssumptionTable, NoAssumptions
from estimator.models.comparison import Comparison
from estimator.models.estimate import Estimate
from estimator.models.options import NoOptions, OptionTable
from estimator.models.risk import NoRisk, Risk

NOT_DRAWN = NoRisk(reason="none were asked for")
NOT_WEIGHED = NoAssumptions(reason="none were asked for")
NOT_TRIED = NoOptions(reason="none were asked for")


@dataclass(frozen=True, kw_only=True)
class Study(Estimate):
    """An estimate, and what other inputs would make of it.

    ``comparison`` are the job's scenarios beside it.
    """

    comparison: Comparison | None = None
    risk: Risk | NoRisk = NOT_DRAWN
    options: OptionTable | NoOptions = NOT_TRIED
    assumptions: AssumptionTable | NoAssumptions = NOT_WEIGHED

    @staticmethod
    def of(estimate: Estimate) -> "Study":
        """Return an estimate as a study, one that asked nothing if it is none yet."""
        return estimate if isinstance(estimate, Study) else estimate.grown(Study)
