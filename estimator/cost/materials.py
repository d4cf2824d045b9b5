"""Cost lines of what is used up or built in: by the item, and pipe."""

from collections import Counter
from collections.abc import Iterator, Mapping

from estimator.cost.rates import DIRECT, amount_of, given_price, rate_input
from estimator.display import counted
from estimator.models.bands import BANDS, Band
from estimator.models.estimate import CostLine, Quantity
from estimator.models.job import Job, Run
from estimator.models.kinds import COUNTED_ITEMS, OWN_RUN, PIPE, CountedItem
from estimator.models.plan import Plan
from estimator.models.planned_job import PlannedJob
from estimator.models.rates import Rates, price_key
from estimator.models.sized_run import SizedRun
from estimator.money import round_quantity
from estimator.standards.pieces import stick_lengths
from estimator.standards.pipe_names import pipe_label
from estimator.steps.kinds import Money
from estimator.steps.recorder import Worked, step
from estimator.units import from_si


def tests_by_run(plan: Plan) -> Counter[str]:
    """Return the test joints of each run."""
    tests: Counter[str] = Counter()
    for line in plan.lines:
        tests[line.run_id] += line.test_joints
    return tests


def units_of(item: CountedItem, run: SizedRun, tests: Mapping[str, int]) -> int:
    """Return how many of a kind of item one run takes."""
    return sum([_counted(key, run, tests) for key in item.counted])


def _counted(key: str, run: SizedRun, tests: Mapping[str, int]) -> int:
    return tests[run.run_id] if key == "test_joints" else run.counts.number(key)


def item_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Consumables, tests and materials that are counted by the item, by size band."""
    tests = tests_by_run(planned.plan)
    keys = tuple(dict.fromkeys(key for item in COUNTED_ITEMS for key in item.counted))
    counted = {band: dict.fromkeys(keys, 0) for band in BANDS}
    for run in planned.runs:
        of_band = counted[run.cycle.band]
        for key in keys:
            of_band[key] += _counted(key, run, tests)
    for item in COUNTED_ITEMS:
        for band, of_band in counted.items():
            number = sum([of_band[key] for key in item.counted])
            if number:
                yield _item_line(planned.job, item, band, number)


def _item_line(job: Job, item: CountedItem, band: Band, number: int) -> CostLine:
    terms = tuple((1, f"joints.{key}.{band}") for key in item.counted)
    return CostLine(
        key=f"item.{item.rate_key}.{band}",
        section=DIRECT,
        cost_type=item.cost_type,
        item=f"{item.item}, size band {band}",
        basis=item.basis.format(rule=job.counting.test_joint_rule),
        quantity=Quantity(float(number), terms),
        unit=item.unit,
        rate=item_price(job, item, band),
        allocated_by=item.allocated_by,
        charged_to=band,
    )


def item_price(job: Job, item: CountedItem, band: Band) -> Worked[float]:
    """Return the price of a piece: that of its size band, else the one of the Rates sheet."""
    row = next((row for row in job.material_prices if row.what == item.what), None)
    if row is None or row.price(band) is None:
        return rate_input(job.rates, item.rate_key)
    return given_price.worked(row, price_key(band))


@step("Price of pipe with waste", "price x (1 + waste)")
def pipe_rate(run: Run, rates: Rates) -> Money:
    """Return the price of a length of pipe with what is cut off and thrown away."""
    return amount_of(run, "pipe_price") * (1 + rates.pipe_waste)


@step("Pipe of whole sticks", "sticks x length of one")
def pieces_m(sticks: int, run: Run) -> float:
    """Return the length of the pieces of a run."""
    return sticks * run.stick_length_m


def pipe_lines(planned: PlannedJob) -> Iterator[CostLine]:
    """Pipe of the runs that carry a price: whole sticks or coils, price with waste."""
    lengths = stick_lengths()
    for run, known in planned.pairs:
        if run.pipe_price is None or not run.pipe_price.amount:
            continue
        per = run.pipe_price.per
        bought = pieces_m.worked(known.counts.sticks, run)
        length = round_quantity(from_si(bought.value, per), 2)
        coil = lengths.is_coil(run.stick_length_m, known.geometry.od_mm)
        piece = "coil" if coil else "stick"
        yield CostLine(
            key=f"pipe.{run.run_id}",
            section=DIRECT,
            cost_type=PIPE,
            item=f"Pipe of run {run.run_id}, {pipe_label(run.od_system, run.size, run.dr)}",
            basis=f"{counted(known.counts.sticks, f'whole {piece}')}; price includes waste",
            quantity=Quantity(length, working=(bought,)),
            unit=per,
            rate=pipe_rate.worked(run, planned.job.rates),
            allocated_by=OWN_RUN,
            charged_to=run.run_id,
        )
