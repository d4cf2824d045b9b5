"""The progress claim: bid items by what is accepted, agreed changes, retention, less claims before.

A claim with everything done comes to the contract price and the agreed changes, to the cent.
"""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from estimator.data_class import dataclass
from estimator.display import LUMP_SUM, show_date
from estimator.errors import EstimatorError
from estimator.models.baseline import BUTT_PIECES, TIE_IN, Baseline, BaselineItem
from estimator.models.changes import Change, ClaimTerms
from estimator.models.run_costs import item_amount
from estimator.money import round_money, round_quantity
from estimator.progress.made import MadeWork
from estimator.steps.kinds import Amount, Money, Share
from estimator.steps.marks import cents, either, number
from estimator.steps.plain import difference
from estimator.steps.recorder import step

WHOLE = 1 - 1e-9
LENGTH_DIGITS, PART_DIGITS = 1, 4
NOTHING = Decimal("0.00")


@dataclass(frozen=True)
class ClaimLine:
    """One item of a claim; quantities are to date and on the claim before."""

    number: str
    description: str
    unit: str
    contract: float
    to_date: float
    previous: float
    unit_price: Decimal

    @property
    def amount_to_date(self) -> Decimal:
        """Amount of the quantity to date."""
        return round_money(item_amount(self.to_date, self.unit_price))

    @property
    def amount(self) -> Decimal:
        """Amount of this period: to date less previous, each to the cent."""
        previous = round_money(item_amount(self.previous, self.unit_price))
        return difference(self.amount_to_date, previous)


@step("Retained", "work to date x retention")
def retained_of(work: Amount, retention: Share) -> Money:
    """Return what is kept back of the work to date, to the cent."""
    return cents(number(work) * retention)


@step("Total due so far", "work to date - retained + released, of what was retained")
def due_so_far(work: Amount, retained: Amount, released: Amount) -> Amount:
    """Return what is due of the work to date; no more is released than was kept back."""
    return work - retained + either(released > retained, lambda: retained, lambda: released)


def due_of(total: Decimal, retention: float, released: Decimal) -> Decimal:
    """Return what is due of the work to date."""
    return due_so_far(total, round_money(retained_of(total, retention)), released)


@dataclass(frozen=True)
class PreviousClaim:
    """A claim that was made before: quantities to date by item, and the total due so far."""

    number: int
    date: dt.date
    to_date: Mapping[str, float]
    due_to_date: Decimal


@dataclass(frozen=True)
class Claim:
    """A claim; ``items`` are those of the contract, ``changes`` the agreed changes."""

    number: int
    date: dt.date
    items: tuple[ClaimLine, ...]
    changes: tuple[ClaimLine, ...]
    retention: float
    released: Decimal
    due_before: Decimal

    @property
    def lines(self) -> tuple[ClaimLine, ...]:
        """Items and changes."""
        return (*self.items, *self.changes)

    @property
    def total(self) -> Decimal:
        """Amount of all work to date."""
        return sum((line.amount_to_date for line in self.lines), NOTHING)

    @property
    def contract(self) -> Decimal:
        """Contract price with the agreed changes."""
        return sum(
            (round_money(item_amount(one.contract, one.unit_price)) for one in self.lines), NOTHING
        )

    @property
    def retained(self) -> Decimal:
        """Retention on the work to date, to the cent."""
        return round_money(retained_of(self.total, self.retention))

    @property
    def due_to_date(self) -> Decimal:
        """What is due so far: work to date, less retention, plus what of it was released."""
        return due_of(self.total, self.retention, self.released)

    @property
    def due(self) -> Decimal:
        """What is due now."""
        return difference(self.due_to_date, self.due_before)


def claim_of(
    baseline: Baseline,
    made: MadeWork,
    changes: Sequence[Change],
    terms: ClaimTerms,
    previous: PreviousClaim | None,
) -> Claim:
    """Return the claim of what was done up to the date of ``made``.

    Pipe is claimed by the length between accepted joints: the length of a run times the part of it
    that its accepted pieces are. Tie-ins by number. Mobilization with the first work, or in the
    part of the terms and the rest at half of the butt joints, as the bid says; hydrotests by passed
    sections; what ends the job with the last work; all else with labor-hours earned.

    Parameters
    ----------
    baseline : Baseline
        The contract: its bid items.
    made : MadeWork
        What was made up to the date of the claim.
    changes : sequence of Change
        Agreed ones are claimed, unless the baseline contains them.
    terms : ClaimTerms
        Retention and the split of mobilization.
    previous : PreviousClaim or None
        The claim before; None for the first.

    Raises
    ------
    EstimatorError
        If a claim of that date or a later one was made already.
    """
    if previous is not None and previous.date >= made.status:
        message = (
            f"Claim {previous.number} of {show_date(previous.date, baseline.head.system)} is made. "
            "Claims are kept as they are: give a later date, or delete the sheet of that claim "
            "to make it again"
        )
        raise EstimatorError(message)
    before: Mapping[str, float] = {} if previous is None else previous.to_date
    progress = _Progress(baseline, made, terms)
    items = tuple(_line(item, progress.part(item), before) for item in baseline.items)
    return Claim(
        number=1 if previous is None else previous.number + 1,
        date=made.status,
        items=items,
        changes=tuple(_change_lines(changes, baseline.head.changes, before)),
        retention=terms.retention,
        released=round_money(terms.released or 0.0),
        due_before=NOTHING if previous is None else previous.due_to_date,
    )


def key_of(number: str, description: str) -> str:
    """Return by what a line is found again on the next claim."""
    return f"{number} {description}"


def _line(item: BaselineItem, part: float, before: Mapping[str, float]) -> ClaimLine:
    return ClaimLine(
        number=item.number,
        description=item.description,
        unit=item.unit,
        contract=item.quantity,
        to_date=_quantity(item, part),
        previous=before.get(key_of(item.number, item.description), 0.0),
        unit_price=item.unit_price,
    )


def _quantity(item: BaselineItem, part: float) -> float:
    """Return the quantity of a part of an item: whole tie-ins, lengths to 0.1, others to 0.0001."""
    if part >= WHOLE:
        return item.quantity
    if item.rule == "tie-ins":
        return float(round(item.quantity * part))
    digits = PART_DIGITS if item.unit == LUMP_SUM else LENGTH_DIGITS
    return min(item.quantity, round_quantity(item.quantity * part, digits))


def _change_lines(
    changes: Sequence[Change], contained: Sequence[str], before: Mapping[str, float]
) -> Iterator[ClaimLine]:
    for change in changes:
        if change.status == "agreed" and change.number not in contained:
            number = f"C{change.number}"
            yield ClaimLine(
                number=number,
                description=change.what,
                unit=LUMP_SUM,
                contract=1.0,
                to_date=round_quantity(change.done or 0.0, PART_DIGITS),
                previous=before.get(key_of(number, change.what), 0.0),
                unit_price=round_money(change.price_agreed or 0.0),
            )


class _Progress:
    """How far each bid item is, 0 to 1."""

    def __init__(self, baseline: Baseline, made: MadeWork, terms: ClaimTerms) -> None:
        self.baseline, self.terms = baseline, terms
        accepted = made.accepted
        self.accepted = {
            run.run_id: {
                kind: min(number, run.pieces.get(kind, 0))
                for kind, number in accepted.get(run.run_id, {}).items()
            }
            for run in baseline.runs
        }
        self.shares = {
            run.run_id: run.share(self.accepted[run.run_id]) if run.minutes else 1.0
            for run in baseline.runs
        }
        self.begun = bool(made.days)
        self.passed = {name.casefold() for name in made.tests_passed}

    def part(self, item: BaselineItem) -> float:
        """Return the part of an item that is done."""
        parts = {
            "length": lambda: self._length(item.runs),
            "tie-ins": self._tie_ins,
            "start": self._start,
            "finish": lambda: float(all(share > WHOLE for share in self.shares.values())),
            "tests": self._tests,
            "work": self._work,
        }
        return parts[item.rule]()

    def _length(self, run_ids: Sequence[str]) -> float:
        lengths = {run_id: self.baseline.by_run[run_id].length_m for run_id in run_ids}
        total = sum(lengths.values())
        return sum(length * self.shares[name] for name, length in lengths.items()) / total

    def _tie_ins(self) -> float:
        planned = sum(run.pieces[TIE_IN] for run in self.baseline.runs)
        done = sum(pieces.get(TIE_IN, 0) for pieces in self.accepted.values())
        return done / planned if planned else 1.0

    def _start(self) -> float:
        if not self.begun:
            return 0.0
        if self.terms.mobilized is None or self._is_half_joined():
            return 1.0
        return self.terms.mobilized

    def _is_half_joined(self) -> bool:
        """Return whether half of the butt joints are accepted."""
        done = sum(pieces.get(kind, 0) for pieces in self.accepted.values() for kind in BUTT_PIECES)
        return 2 * done >= self.baseline.joints

    def _tests(self) -> float:
        tests = [one for one in self.baseline.lump_sums if one.rule == "test"]
        total = sum((one.cost for one in tests), NOTHING)
        done = sum((one.cost for one in tests if one.name.casefold() in self.passed), NOTHING)
        return float(done / total) if total else 1.0

    def _work(self) -> float:
        total = self.baseline.labor_hours
        earned = sum(run.labor_hours * self.shares[run.run_id] for run in self.baseline.runs)
        return earned / total if total else 1.0
