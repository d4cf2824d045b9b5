"""Quotes beside each other: whether they fit a line of the request, and what they cost on it."""

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from estimator.data_class import dataclass
from estimator.equipment.rental_tiers import cheapest_mix
from estimator.models.quotes import Quote
from estimator.models.rental import RentalKind
from estimator.models.rental_request import LiftNeed, MachineNeed, PowerWanted, RequestLine
from estimator.money import round_money
from estimator.units import OD_SLACK_MM, at_least, at_most

LATER_DAYS, SOONER_DAYS = 14, -7
"""Off rent two weeks later, and one sooner."""
DAY_AND_NIGHT = 2


@dataclass(frozen=True)
class ComparedQuote:
    """A quote on its line; ``number`` is its row in the table of quotes.

    ``cost_held`` is that with two weeks on standby, None where no standby rate is quoted.
    ``why_not`` is empty where it fits. ``lapsed`` says that it is no longer valid when the
    order is placed.
    """

    number: int
    quote: Quote
    line: RequestLine
    cost: Decimal
    cost_later: Decimal
    cost_sooner: Decimal
    cost_held: Decimal | None
    why_not: tuple[str, ...]
    lapsed: bool

    @property
    def can_be_taken(self) -> bool:
        """Whether it fits and is still valid."""
        return not self.why_not and not self.lapsed


@dataclass(frozen=True)
class KindChoice:
    """The cheapest quotes for all lines of one kind of equipment.

    ``single`` is the cheapest supplier who quotes for every line, empty without one; ``mix`` the
    cheapest quote of each line, by line; a line without any is in ``open_lines``.
    """

    kind: RentalKind
    single: str
    single_cost: Decimal
    mix: tuple[ComparedQuote, ...]
    open_lines: tuple[int, ...]

    @property
    def mix_cost(self) -> Decimal:
        """Cost of the cheapest quote of each line."""
        return sum((one.cost for one in self.mix), Decimal(0))


@dataclass(frozen=True)
class QuoteComparison:
    """Every quote on its line, and the cheapest ones by kind of equipment."""

    quotes: tuple[ComparedQuote, ...]
    choices: tuple[KindChoice, ...]
    unknown: tuple[int, ...]
    """Rows of quotes for lines that the request does not have."""


def compare_quotes(
    lines: Sequence[RequestLine], quotes: Sequence[Quote], drag_mpa: float, order: dt.date
) -> QuoteComparison:
    """Return the quotes compared on the spans of the job.

    Parameters
    ----------
    lines : sequence of RequestLine
        The request.
    quotes : sequence of Quote
        In the order of their table.
    drag_mpa : float
        Gauge pressure for drag, on top of the force on the ends.
    order : date
        Day on which the order is placed.
    """
    by_number = {line.number: line for line in lines}
    compared = tuple(
        _compared(number, quote, by_number[quote.line], drag_mpa, order)
        for number, quote in enumerate(quotes, 1)
        if quote.line in by_number
    )
    kinds = dict.fromkeys(one.line.kind for one in compared)
    return QuoteComparison(
        quotes=tuple(sorted(compared, key=lambda one: (one.line.number, one.cost))),
        choices=tuple(
            _choice(kind, [line for line in lines if line.kind == kind], compared) for kind in kinds
        ),
        unknown=tuple(n for n, quote in enumerate(quotes, 1) if quote.line not in by_number),
    )


def quote_cost(quote: Quote, line: RequestLine, more_days: int = 0) -> Decimal:
    """Return what a quote costs on a line: periods, excess hours, waiver, both trips, fuel.

    Parameters
    ----------
    more_days : int
        Calendar days that off rent moves; days of use move with it.
    """
    planned = (line.off_rent - line.deliver_by).days + 1
    days = max(1, planned + more_days)
    billed = max(days, quote.minimum_days or 0)
    rental = cheapest_mix(billed, quote.day_rate, quote.week, quote.four_weeks).cost
    beyond = _hours_beyond(quote, line) * days / planned
    used = rental + beyond * (quote.excess_hour or 0.0)
    trips = (quote.delivery or 0.0) + (quote.collection or 0.0)
    rented = line.quantity * (used * (1 + (quote.waiver or 0.0)) + trips)
    fuel_l = line.fuel_l
    if quote.fuel_l_h is not None:
        fuel_l = quote.fuel_l_h * line.engine_h * line.quantity
    return round_money(rented + fuel_l * line.fuel_price_l * days / planned)


def held_cost(quote: Quote, line: RequestLine, days: int = LATER_DAYS) -> Decimal | None:
    """Return what a quote costs where others hold the job for some days, paid at standby.

    None where no standby rate is quoted: then those days cost what more days cost.
    """
    if quote.standby is None:
        return None
    return quote_cost(quote, line) + round_money(line.quantity * days * quote.standby)


def _hours_beyond(quote: Quote, line: RequestLine) -> float:
    if quote.day_hours is None:
        return 0.0
    shifts = DAY_AND_NIGHT if line.nights else 1
    return max(0.0, shifts * line.shift_hours - quote.day_hours) * line.work_days


def _compared(
    number: int, quote: Quote, line: RequestLine, drag_mpa: float, order: dt.date
) -> ComparedQuote:
    return ComparedQuote(
        number=number,
        quote=quote,
        line=line,
        cost=quote_cost(quote, line),
        cost_later=quote_cost(quote, line, LATER_DAYS),
        cost_sooner=quote_cost(quote, line, SOONER_DAYS),
        cost_held=held_cost(quote, line),
        why_not=tuple(_why_not(quote, line, drag_mpa)),
        lapsed=quote.valid_until is not None and quote.valid_until < order,
    )


def _why_not(quote: Quote, line: RequestLine, drag_mpa: float) -> Iterator[str]:
    """Yield each thing that a quote cannot do; what it does not say is not checked."""
    need = line.need
    if isinstance(need, MachineNeed):
        low, high = need.od_mm
        if quote.od_from_mm is not None and not at_least(low, quote.od_from_mm, OD_SLACK_MM):
            yield "smallest pipe is too large"
        if quote.od_to_mm is not None and not at_most(high, quote.od_to_mm, OD_SLACK_MM):
            yield "largest pipe is too small"
        if quote.piston_area_mm2 is not None and quote.gauge_limit_mpa is not None:
            gauge = need.force_n / quote.piston_area_mm2 + drag_mpa
            if not at_most(gauge, quote.gauge_limit_mpa):
                yield "gauge limit is below force and drag"
    elif isinstance(need, PowerWanted):
        if quote.rated_kw is not None and not at_least(quote.rated_kw, need.rated_kw):
            yield "rated output is too small"
    elif _is_too_weak(quote, need):
        yield "capacity is too small"
    if quote.earliest is not None and quote.earliest > line.deliver_by:
        yield "comes too late"


def _is_too_weak(quote: Quote, need: LiftNeed) -> bool:
    return quote.capacity_kg is not None and not at_least(quote.capacity_kg, need.mass_kg)


def _choice(
    kind: RentalKind, lines: Sequence[RequestLine], compared: Sequence[ComparedQuote]
) -> KindChoice:
    fitting = [one for one in compared if one.line.kind == kind and one.can_be_taken]
    best = _cheapest_by_line(fitting)
    suppliers = dict.fromkeys(one.quote.supplier for one in fitting)
    whole: list[tuple[Decimal, str]] = []
    for supplier in suppliers:
        own = _cheapest_by_line([one for one in fitting if one.quote.supplier == supplier])
        if len(own) == len(lines):
            whole.append((sum((one.cost for one in own.values()), Decimal(0)), supplier))
    cost, name = min(whole, default=(Decimal(0), ""))
    return KindChoice(
        kind=kind,
        single=name,
        single_cost=cost,
        mix=tuple(best[number] for number in sorted(best)),
        open_lines=tuple(line.number for line in lines if line.number not in best),
    )


def _cheapest_by_line(quotes: Sequence[ComparedQuote]) -> Mapping[int, ComparedQuote]:
    found: dict[int, ComparedQuote] = {}
    for one in sorted(quotes, key=lambda one: (one.cost, one.number)):
        found.setdefault(one.line.number, one)
    return found
