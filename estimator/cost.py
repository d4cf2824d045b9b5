"""Cost lines and the bid: every amount a quantity times a rate that the user gave."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from estimator.cost_rental import all_rental_lines
from estimator.models.estimate import Bid, CostLine, Quantity, Section
from estimator.models.job import Job, MoneyRate, Role
from estimator.models.plan import Fleet, Plan, SizedRun
from estimator.money import Expr, round_money, round_quantity
from estimator.units import from_si

DIRECT: Section = "Direct cost"
INDIRECT: Section = "Indirect cost"


def role_hours(job: Job, plan: Plan) -> list[tuple[Role, float, float]]:
    """Return each role with its straight and overtime hours, to 0.01 h."""
    hours = []
    for i, role in enumerate(job.crew):
        straight = sum(day.heads[i] * day.straight_hours for day in plan.crew_days)
        overtime = sum(day.heads[i] * day.overtime_hours for day in plan.crew_days)
        hours.append((role, round_quantity(straight, 2), round_quantity(overtime, 2)))
    return hours


def rate_input(job: Job, key: str) -> Expr:
    """Return a cell of the Rates sheet as an expression."""
    value = getattr(job.rates, key)
    return Expr.of("rates", "", key, value.amount if isinstance(value, MoneyRate) else value)


def labour_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    """Straight time of every role, then overtime, then small tools as a share of the first.

    Burden is paid on straight pay for all hours; overtime hours cost wage x (multiple + burden).
    """
    hours = role_hours(job, plan)
    straight = [
        _labour_line(role, "straight", worked, Expr.one(), "paid hours x wage with burden")
        for role, worked, _ in hours
        if worked
    ]
    yield from straight
    for role, _, worked in hours:
        if worked:
            multiple = Expr.of("crew", role.role, "overtime_multiple", role.overtime_multiple)
            yield _labour_line(role, "overtime", worked, multiple, "hours beyond straight time")
    labour = float(sum((line.amount for line in straight), Decimal(0)))
    yield CostLine(
        key="labour.small_tools",
        section=DIRECT,
        cost_type="Labour",
        item="Small tools",
        basis="share of straight-time labour",
        quantity=Quantity(labour, tuple((1, f"cost.{line.key}") for line in straight)),
        unit=job.facts.currency,
        rate=rate_input(job, "small_tools"),
    )


def _labour_line(role: Role, kind: str, hours: float, multiple: Expr, basis: str) -> CostLine:
    wage = Expr.of("crew", role.role, "wage", role.wage.amount)
    burden = Expr.of("crew", role.role, "burden", role.burden)
    return CostLine(
        key=f"labour.{kind}.{role.role}",
        section=DIRECT,
        cost_type="Labour",
        item=f"{role.role}, {kind} time",
        basis=basis,
        quantity=Quantity(hours, ((1, f"plan.{kind}.{role.role}"),)),
        unit="h",
        rate=wage * (multiple + burden),
    )


def fuel_volume(job: Job, litres: float) -> float:
    """Return a fuel volume in the unit that fuel is priced in, to 0.1."""
    return round_quantity(from_si(litres, job.rates.fuel_price.per), 1)


def piece_lines(job: Job, sized: Sequence[SizedRun], plan: Plan) -> Iterator[CostLine]:
    """Consumables, tests and materials that are counted by the piece."""
    remade = sum(run.count.remade_joints for run in sized)
    tests = sum(line.test_joints for line in plan.lines)
    butt = sum(run.count.butt_joints for run in sized)
    count = (
        ("joint_consumables", "Consumables", "Butt fusion consumables", "butt joint",
         "butt, remade and test joints", butt + remade + tests,
         ("joints.butt_joints", "joints.remade_joints", "plan.test_joints")),
        ("test_joint_cost", "Tests", "Test joints", "test", "by the rule on the Job sheet",
         tests, ("plan.test_joints",)),
        ("ef_closure_cost", "Materials", "Electrofusion closures", "closure", "pipe schedule",
         sum(run.count.ef_closures for run in sized), ("joints.ef_closures",)),
        ("bolt_up_cost", "Materials", "Bolt-up sets", "bolt-up", "flange and MJ adapters",
         sum(run.count.bolt_ups for run in sized), ("joints.bolt_ups",)),
        ("saddle_cost", "Materials", "Branch saddles", "saddle", "pipe schedule",
         sum(run.count.saddles for run in sized), ("joints.saddles",)),
    )  # fmt: skip
    for key, cost_type, item, unit, basis, number, anchors in count:
        if number:
            yield CostLine(
                key=f"piece.{key}",
                section=DIRECT,
                cost_type=cost_type,
                item=item,
                basis=basis,
                quantity=Quantity(float(number), tuple((1, anchor) for anchor in anchors)),
                unit=unit,
                rate=rate_input(job, key),
            )


def pipe_lines(job: Job, sized: Sequence[SizedRun]) -> Iterator[CostLine]:
    """Pipe of the runs that carry a price: whole sticks, price with waste."""
    waste = Expr.one() + rate_input(job, "pipe_waste")
    for run, known in zip(job.runs, sized, strict=True):
        if run.pipe_price is None or not run.pipe_price.amount:
            continue
        per = run.pipe_price.per
        length = round_quantity(from_si(known.count.sticks * run.stick_length, per), 2)
        yield CostLine(
            key=f"pipe.{run.run_id}",
            section=DIRECT,
            cost_type="Pipe",
            item=f"Pipe of run {run.run_id}, {run.od_system} {run.size} DR {run.dr:g}",
            basis=f"{known.count.sticks} whole pieces; price with waste",
            quantity=Quantity(length),
            unit=per,
            rate=Expr.of("schedule", run.run_id, "pipe_price", run.pipe_price.amount) * waste,
        )


def indirect_lines(job: Job, plan: Plan) -> Iterator[CostLine]:
    """Mobilisation, subsistence and site overhead."""
    count = (
        ("mobilisation", "Mobilisation", "Mobilisation", "lump sum", "to site", 1.0, ()),
        ("demobilisation", "Mobilisation", "Demobilisation", "lump sum", "from site", 1.0, ()),
        ("subsistence", "Subsistence", "Subsistence", "person-day", "people x paid days",
         person_days(plan), ((1, "plan.person_days"),)),
        ("site_overhead", "Site overhead", "Site overhead", "work day",
         "worked and weather days", float(site_days(plan)), ((1, "plan.site_days"),)),
    )  # fmt: skip
    for key, cost_type, item, unit, basis, number, terms in count:
        yield CostLine(
            key=f"indirect.{key}",
            section=INDIRECT,
            cost_type=cost_type,
            item=item,
            basis=basis,
            quantity=Quantity(number, terms),
            unit=unit,
            rate=rate_input(job, key),
        )


def person_days(plan: Plan) -> float:
    """Return people x paid days, to 0.01."""
    return round_quantity(sum(sum(day.heads) for day in plan.crew_days), 2)


def site_days(plan: Plan) -> int:
    """Return the dates on which a crew is paid, worked or lost to weather."""
    return len({day.date for day in plan.crew_days})


def cost_lines(
    job: Job, sized: Sequence[SizedRun], plan: Plan, fleet: Fleet
) -> tuple[CostLine, ...]:
    """Return every cost line, direct before indirect, in the order of the Cost sheet."""
    volume = sum(fuel_volume(job, span.fuel_l) for span in fleet.spans)
    fuel = CostLine(
        key="fuel",
        section=DIRECT,
        cost_type="Fuel",
        item="Diesel fuel",
        basis="own engines, generators at their mean load, lifting gear at work",
        quantity=Quantity(round_quantity(volume, 1), ((1, "equipment.fuel"),)),
        unit=job.rates.fuel_price.per,
        rate=rate_input(job, "fuel_price"),
    )
    return (
        *labour_lines(job, plan),
        *all_rental_lines(job, fleet),
        fuel,
        *piece_lines(job, sized, plan),
        *pipe_lines(job, sized),
        *indirect_lines(job, plan),
    )


def make_bid(job: Job, lines: Sequence[CostLine]) -> Bid:
    """Return the price from the cost lines and the markups of the Rates sheet.

    Office overhead and contingency are shares of job cost. Profit is ``cost x p`` as a markup
    or ``cost x p / (1 - p)`` as a margin on the price before bond. The bond is a share of the
    price that holds it: ``price = price before bond / (1 - bond)``. Tax comes on the price.
    """
    rates = job.rates
    direct = sum((line.amount for line in lines if line.section == DIRECT), Decimal(0))
    indirect = sum((line.amount for line in lines if line.section == INDIRECT), Decimal(0))
    job_cost = direct + indirect
    overhead = round_money(float(job_cost) * rates.office_overhead)
    contingency = round_money(float(job_cost) * rates.contingency)
    before_profit = job_cost + overhead + contingency
    profit = round_money(float(before_profit) * rates.profit)
    if rates.profit_basis == "margin on price":
        profit = round_money(float(before_profit) * rates.profit / (1 - rates.profit))
    before_bond = before_profit + profit
    bond = round_money(float(before_bond) / (1 - rates.bond) - float(before_bond))
    price = before_bond + bond
    tax = round_money(float(price) * rates.tax)
    return Bid(
        direct_cost=direct,
        indirect_cost=indirect,
        job_cost=job_cost,
        office_overhead=overhead,
        contingency=contingency,
        cost_before_profit=before_profit,
        profit=profit,
        price_before_bond=before_bond,
        bond=bond,
        price=price,
        tax=tax,
        total=price + tax,
    )
