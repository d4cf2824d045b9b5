"""Totals that must agree, each reached in two ways, with the live formulas of both."""

from collections.abc import Iterator

from estimator.cost import fuel_volume
from estimator.cost.labor import ALL_HOURS, role_hours
from estimator.data_class import dataclass
from estimator.money import round_quantity
from estimator.units import from_si
from estimator.workbook.results.builder import Context

JOINT_PARTS = ("stick_joints", "fitting_joints", "outside_tie_ins")
WHOLE, HOURS, CENTS, FUEL_LINE = 0.5, 0.1, 0.005, 0.05
TOLERANCES = (
    f"Counts agree exactly; hours within {HOURS:g}; money within {CENTS:g}; fuel, rounded by line "
    f"and by week, within {FUEL_LINE:g} a line and {WHOLE:g}."
)
"""How far two totals may be apart, so that a difference shown beside an OK is understood."""


@dataclass(frozen=True)
class ControlTotal:
    """One total, two ways: values as estimated, formulas over result cells."""

    label: str
    one: float
    one_formula: str
    other: float
    other_formula: str
    tolerance: float

    @property
    def style(self) -> str:
        """The style of its cells: what is counted in whole joints has no decimals."""
        return "int" if self.tolerance == WHOLE else "num2"


def control_totals(context: Context) -> Iterator[ControlTotal]:
    """Yield the control totals of joints, hours and money."""
    yield from _joint_totals(context)
    yield from _hour_totals(context)
    yield from _hydrotest_totals(context)
    yield _fuel_total(context)
    yield from _money_totals(context)


def _joint_totals(context: Context) -> Iterator[ControlTotal]:
    at, runs, lines = context.anchors, context.estimate.runs, context.estimate.plan.lines
    butt, butt_at = context.estimate.butt_joints, at["joints.butt_joints"]
    by_crew = {line.crew: 0 for line in lines}
    for line in lines:
        by_crew[line.crew] += line.joints
    yield ControlTotal(
        "Butt joints: by run vs. by day",
        butt, butt_at, sum(line.joints for line in lines), at["plan.joints"], WHOLE,
    )  # fmt: skip
    tests = sum(line.test_joints for line in lines)
    yield ControlTotal(
        "Trial fusions: by run vs. by day",
        tests, at["joints.test_joints"], tests, at["plan.test_joints"], WHOLE,
    )  # fmt: skip
    crews, joints = at["plan.column.crew"], at["plan.column.joints"]
    yield ControlTotal(
        "Butt joints: by run vs. by crew",
        butt, butt_at, sum(by_crew.values()),
        "+".join(f"SUMIF({crews},{crew},{joints})" for crew in sorted(by_crew)), WHOLE,
    )  # fmt: skip
    yield ControlTotal(
        "Butt joints: by run vs. by week",
        butt, butt_at, sum(line.joints for line in lines), at["weeks.joints"], WHOLE,
    )  # fmt: skip
    if "gantt.joints" in at:
        yield ControlTotal(
            "Butt joints: by run vs. Gantt",
            butt, butt_at, sum(span.joints for span in context.run_spans.values()),
            at["gantt.joints"], WHOLE,
        )  # fmt: skip
    yield ControlTotal(
        "Butt joints: total vs. stick + fitting + tie-in",
        butt, butt_at, sum(getattr(run.counts, part) for run in runs for part in JOINT_PARTS),
        "+".join(at[f"joints.{part}"] for part in JOINT_PARTS), WHOLE,
    )  # fmt: skip
    yield ControlTotal(
        "Rework joints: by run vs. by day",
        sum(run.counts.rework_joints for run in runs), at["joints.rework_joints"],
        sum(line.rework_joints for line in lines), at["plan.rework_joints"], WHOLE,
    )  # fmt: skip


def _hour_totals(context: Context) -> Iterator[ControlTotal]:
    estimate = context.estimate
    by_role = role_hours(estimate.job, estimate.plan)
    roles = [
        reference
        for name, reference in context.anchors.items()
        if name.startswith(tuple(f"plan.{kind}." for kind in ALL_HOURS))
    ]
    yield ControlTotal(
        "Labor-hours: by run vs. by role",
        sum(estimate.labor_hours.values()), context.anchors["joints.labor_hours"],
        sum(entry.total for entry in by_role), "+".join(roles), HOURS,
    )  # fmt: skip
    yield ControlTotal(
        "Labor-hours: by run vs. by week",
        sum(estimate.labor_hours.values()), context.anchors["joints.labor_hours"],
        sum(day.labor_hours for day in estimate.plan.crew_days),
        context.anchors["weeks.labor_hours"], HOURS,
    )  # fmt: skip
    crews = [at for name, at in context.anchors.items() if name.startswith("plan.crew_hours.")]
    yield ControlTotal(
        "Crew-hours: by run vs. by crew",
        sum(estimate.crew_hours.values()), context.anchors["joints.crew_hours"],
        estimate.total_crew_hours, "+".join(crews), HOURS,
    )  # fmt: skip


def _hydrotest_totals(context: Context) -> Iterator[ControlTotal]:
    tests = context.estimate.tests
    if tests:
        yield ControlTotal(
            "Hydrotest hours: by section vs. by day",
            sum(test.hours.total for test in tests), context.anchors["tests.total"],
            sum(day.hours for test in tests for day in test.days),
            f"SUM({context.anchors['tests.column.hours']})", HOURS,
        )  # fmt: skip
        yield ControlTotal(
            "Hydrotest labor-hours: by section vs. by week",
            sum(test.labor_hours for test in tests), context.anchors["tests.labor_hours"],
            sum(test.labor_hours for test in tests), context.anchors["weeks.test_hours"], HOURS,
        )  # fmt: skip


def _fuel_total(context: Context) -> ControlTotal:
    """Return the fuel of all rental lines, each to 0.1, against that of the weeks, each whole."""
    job, spans = context.estimate.job, context.estimate.fleet.spans
    volumes = [fuel_volume(job.rates, span.fuel_l) for span in spans]
    return ControlTotal(
        f"Diesel fuel: by rental line vs. by week, {job.rates.fuel_price.per}",
        sum(volumes), context.anchors["equipment.fuel"],
        round_quantity(from_si(sum(span.fuel_l for span in spans), job.rates.fuel_price.per), 0),
        context.anchors["weeks.fuel"], FUEL_LINE * len(spans) + WHOLE,
    )  # fmt: skip


def _money_totals(context: Context) -> Iterator[ControlTotal]:
    at, bid, by_run = context.anchors, context.estimate.bid, context.estimate.by_run
    by_type: dict[str, float] = {}
    for line in context.estimate.cost_lines:
        by_type[line.cost_type] = by_type.get(line.cost_type, 0.0) + float(line.amount)
    job_cost, job_cost_at = float(bid.job_cost), at["cost.job"]
    yield ControlTotal(
        "Job cost: by line vs. by type",
        job_cost, job_cost_at, sum(by_type.values()), at["cost.by_type"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Job cost: by line vs. by run", job_cost, job_cost_at,
        sum(float(run.cost) for run in by_run.runs)
        + sum(float(by_run.rounding(share)) for share in by_run.allocations),
        at["by_run.cost"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Job cost: by type vs. by size", sum(by_type.values()), at["cost.by_type"],
        job_cost, at["by_size.cost"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Job cost: Cost vs. Price build-up",
        job_cost, job_cost_at, float(bid.direct_cost + bid.indirect_cost), at["bid.job"], CENTS,
    )  # fmt: skip
    spans = context.estimate.fleet.spans
    rented = sum(span.rate_periods.cost * span.quantity for span in spans)
    yield ControlTotal(
        "Rental: by line vs. by class",
        rented, at["equipment.rental"], rented, at["fleet.rental"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Bid price: Price build-up vs. by size",
        float(bid.price), at["bid.price"], float(bid.price), at["bid.by_size"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Bid price: Price build-up vs. by run",
        float(bid.price), at["bid.price"], float(bid.price), at["by_run.price"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Bid price: Price build-up vs. Bid schedule items",
        float(bid.price), at["bid.price"], float(bid.price), at["schedule.price"], CENTS,
    )  # fmt: skip
    yield ControlTotal(
        "Bid price: Price build-up vs. Bid sheet",
        float(bid.price), at["bid.price"],
        float(bid.price), at["page.sum"], CENTS,
    )  # fmt: skip
