"""The tables of kinds: what is made besides butt joints, what is priced by the piece, cost types.

One row here is all that the count, the times, the plan, the prices and the sheets need to know of
a kind; its inputs stand in the data dictionary.
"""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Literal, get_args

from estimator.data_class import dataclass
from estimator.errors import UnknownNameError

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema

RiskFactor = Literal[
    "productivity", "cycle handling", "rework", "weather", "fuel price", "rental", "wages"
]
RISK_FACTORS: tuple[RiskFactor, ...] = (
    "productivity", "cycle handling", "rework", "weather", "fuel price", "rental", "wages",
)  # fmt: skip
"""What the trials vary over the whole job."""


class OneOf:
    """The check that a text is one of some names; what checks models loads it, this does not.

    Parameters
    ----------
    names : sequence of str
        The texts that are allowed.
    """

    def __init__(self, names: Sequence[str]) -> None:
        self.names = names

    def __get_pydantic_core_schema__(
        self, source: object, handler: "GetCoreSchemaHandler"
    ) -> "CoreSchema":
        """Return the schema of the text with the check after it."""
        from pydantic_core import core_schema

        return core_schema.no_info_after_validator_function(self.check, handler(source))

    def check(self, text: str) -> str:
        """Return the text; raises ValueError where it is none of the names."""
        if text not in self.names:
            message = f"must be one of {', '.join(self.names)}, got {text!r}"
            raise ValueError(message)
        return text


AllocationBasis = str
"""By what a cost line is shared out over the runs; a key of ``ALLOCATION_BASES``."""

BY_HOURS: AllocationBasis = "labor-hours"
BY_LENGTH: AllocationBasis = "length"
BY_JOINTS: AllocationBasis = "butt joints"
OWN_RUN: AllocationBasis = "direct to run"
TESTED_LENGTH: AllocationBasis = "tested length"


MarkupType = Literal["labor", "equipment", "materials", "subcontract", "other"]
MARKUP_TYPES: tuple[MarkupType, ...] = get_args(MarkupType)
"""What carries a markup of its own where the Rates sheet gives one."""
DAMAGES_TYPE: MarkupType = "other"
"""The one that holds the liquidated damages."""


Paid = Literal["by fusion", "by crew day", "by job day", "by piece", "by test", "at once"]
"""What the cost of a type goes by: the time that joints take, days of crews or of the job, what is
bought or made, test sections, or once."""
WITH_PLAN: tuple[Paid, ...] = ("by fusion", "by crew day", "by job day")
"""What the plan of the rest of a job prices; of all else, what is not earned is still to come."""
OF_NO_JOINT: tuple[Paid, ...] = ("by job day", "by test", "at once")
"""What no joint of a run earns: lump sums of the baseline."""


@dataclass(frozen=True)
class CostType:
    """One type of cost lines.

    ``bid_item`` says where the client pays for it: ``WITH_PIPE`` in the prices of pipe and
    tie-ins, ``EACH_LINE`` in an item for each line, any other text in one item of that name.
    ``factor`` is the range on the Risk inputs sheet that multiplies it, ``markup`` the type under
    which it carries overhead, contingency and profit. An item of tests stands on the bid with the
    connections.
    """

    name: str
    bid_item: str = ""
    paid: Paid = "by piece"
    factor: RiskFactor | None = None
    before_pipe: bool = False
    markup: MarkupType = "other"
    of_tests: bool = False


WITH_PIPE, EACH_LINE = "", "each line"
LABOR, EQUIPMENT, HYDROTESTS = "Labor", "Equipment", "Hydrotests"
JOBSITE_OVERHEAD, LIQUIDATED_DAMAGES = "Jobsite overhead", "Liquidated damages"
PIPE = "Pipe"
COST_TYPES = (
    CostType(LABOR, paid="by fusion", factor="wages", markup="labor"),
    CostType(EQUIPMENT, paid="by fusion", factor="rental", markup="equipment"),
    CostType("Fuel", paid="by fusion", factor="fuel price", markup="equipment"),
    CostType("Consumables", markup="materials"),
    CostType("Trial fusions", "Trial fusions", markup="materials", of_tests=True),
    CostType("Materials", markup="materials"),
    CostType("Fittings", markup="materials"),
    CostType(PIPE, markup="materials"),
    CostType("Subcontract", markup="subcontract"),
    CostType("Other costs"),
    CostType(HYDROTESTS, "Hydrostatic testing", paid="by test", of_tests=True),
    CostType("Mobilization", EACH_LINE, paid="at once", before_pipe=True),
    CostType("Per diem", paid="by crew day", markup="labor"),
    CostType(JOBSITE_OVERHEAD, paid="by job day"),
    CostType(LIQUIDATED_DAMAGES, paid="by job day"),
)


def cost_type(name: str) -> CostType:
    """Return a cost type by its name.

    Raises
    ------
    UnknownNameError
        If the table has none of that name.
    """
    for kind in COST_TYPES:
        if kind.name == name:
            return kind
    raise UnknownNameError("cost type", name, tuple(kind.name for kind in COST_TYPES))


@dataclass(frozen=True)
class CountedItem:
    """What is priced by the piece: its rate, its price by size, and what counts it.

    ``basis`` takes the rule of trial fusions in braces. ``what`` is its name in the table of
    material prices, ``counted`` are columns of the Joints sheet, ``supplied`` is how the Bid sheet
    names it among what comes with the work.
    """

    rate_key: str
    what: str
    cost_type: str
    item: str
    unit: str
    basis: str
    allocated_by: AllocationBasis
    counted: tuple[str, ...]
    supplied: str = ""


@dataclass(frozen=True)
class Connection:
    """A connection that is not a butt joint.

    ``key`` is its column on the Joints sheet, ``work`` what Task times call it, ``columns`` are
    those of the pipe schedule that count it. ``after_tie_ins`` are made when the strings of the
    run are tied together, the others on strings at rest.
    """

    key: str
    work: str
    plural: str
    columns: tuple[str, ...]
    counted_item: CountedItem
    heading: str
    note: str = ""
    after_tie_ins: bool = False

    @property
    def one(self) -> str:
        """One of it in a sentence, such as ``a bolt-up``."""
        return f"{'an' if self.work[0] in 'aeiou' else 'a'} {self.work}"


BUTT_JOINT = "butt joint"
CONNECTIONS = (
    Connection(
        "ef_closures", "electrofusion closure", "Electrofusion closures", ("ef_closures",),
        CountedItem(
            "ef_closure_cost", "electrofusion closure", "Materials", "Electrofusion closures",
            "closure", "pipe schedule", "closures", ("ef_closures",),
            supplied="electrofusion couplings",
        ),
        "EF closures", after_tie_ins=True,
    ),
    Connection(
        "bolt_ups", "bolt-up", "Bolt-ups", ("flange_adapters", "mj_adapters"),
        CountedItem("bolt_up_cost", "bolt-up set", "Materials", "Bolt-up sets", "bolt-up",
              "flange and MJ adapters", "bolt-ups", ("bolt_ups",), supplied="bolt-up sets"),
        "Bolt-ups", "Flange and MJ adapters",
    ),
    Connection(
        "saddles", "branch saddle", "Branch saddles", ("branch_saddles",),
        CountedItem("saddle_cost", "branch saddle", "Materials", "Branch saddles", "saddle",
              "pipe schedule", "saddles", ("saddles",), supplied="branch saddles"),
        "Saddles",
    ),
)  # fmt: skip
ON_STRINGS = tuple(kind for kind in reversed(CONNECTIONS) if not kind.after_tie_ins)
AFTER_TIE_INS = tuple(kind for kind in reversed(CONNECTIONS) if kind.after_tie_ins)
"""Connections in the order in which a crew makes them, the last of the table first."""
WORK_KINDS = (BUTT_JOINT, *(kind.work for kind in CONNECTIONS))
WorkKind = Annotated[str, OneOf(WORK_KINDS)]

CONSUMABLES = CountedItem(
    "joint_consumables", "butt joint consumables", "Consumables", "Butt fusion consumables",
    "butt joint", "butt joints, rework joints and trial fusions", "joints made",
    ("butt_joints", "rework_joints", "test_joints"),
)  # fmt: skip
TRIAL_FUSIONS = CountedItem(
    "test_joint_cost", "trial fusion", "Trial fusions", "Trial fusions", "test",
    "by each crew: {rule}", "trial fusions", ("test_joints",),
)  # fmt: skip
COUNTED_ITEMS = (CONSUMABLES, TRIAL_FUSIONS, *(kind.counted_item for kind in CONNECTIONS))
ITEM_NAMES = tuple(item.what for item in COUNTED_ITEMS)
ItemName = Annotated[str, OneOf(ITEM_NAMES)]

FITTINGS: Mapping[str, str] = MappingProxyType(
    {
        "elbow": "elbows",
        "tee": "tees",
        "reducing tee": "reducing_tees",
        "reducer": "reducers",
        "cap": "caps",
        "flange adapter": "flange_adapters",
        "MJ adapter": "mj_adapters",
        "sweep": "sweeps",
    }
)
"""Fittings that may be priced by size and DR, with the column of the pipe schedule."""
FITTING_KINDS = tuple(FITTINGS)
TO_SMALLER = ("reducing tee", "reducer")
"""Fittings with an end of a smaller size."""
WITH_ANGLE = "elbow"
"""The fitting whose price may differ by angle."""
WITHOUT_JOINT = ("sweep",)
"""Bends of the pipe itself: nothing is joined, and mostly nothing bought."""
FittingKind = Annotated[str, OneOf(FITTING_KINDS)]

ALLOCATION_BASES: Mapping[AllocationBasis, tuple[str, ...]] = MappingProxyType(
    {
        BY_HOURS: ("labor_hours",),
        BY_LENGTH: ("length",),
        BY_JOINTS: ("butt_joints",),
        OWN_RUN: (),
        TESTED_LENGTH: ("tested_length",),
        **{item.allocated_by: item.counted for item in COUNTED_ITEMS},
    }
)
"""Columns of the Joints sheet that count each driver."""
