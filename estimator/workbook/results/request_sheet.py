"""The rental request sheets: one page a supplier, by capability, no class and no price of ours."""

import datetime as dt
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import zip_longest
from typing import NamedTuple

from estimator.display import OTHER, UnitSystem, kept_whole, show, show_date, unit_of
from estimator.inputs.trade_units import written
from estimator.models.quotes import RequestTerms
from estimator.models.rental import RentalKind
from estimator.models.rental_request import LiftNeed, MachineNeed, PowerWanted, RequestLine
from estimator.money import round_quantity
from estimator.standards.pipe_names import ratio_label, sizes_label
from estimator.units import from_si
from estimator.workbook.results.builder import Context, SheetBuilder, header_text
from estimator.workbook.results.headers_again import with_headers_again
from estimator.workbook.sheet.spec import Cell, SheetSpec
from estimator.working_time.ambient import MonthlyAmbient

WIDTHS = (4.0, 26.25, 6.25, *[9.5] * 4, 5.25, 5.25)
"""They fill an upright page."""
TINY = 1e-9


class Supplier(NamedTuple):
    """Suppliers of one kind of equipment: the sheet that they get, and what they supply."""

    sheet: str
    what: str


SUPPLIERS: Mapping[RentalKind, Supplier] = {
    "machine": Supplier("Request machines", "fusion equipment"),
    "generator": Supplier("Request generators", "generators"),
    "lifting": Supplier("Request lifting", "lifting equipment"),
}
"""Sheet and words of each page: suppliers of one kind of equipment get the same page."""
ASK = (
    "Please quote what you would send for each line. Rent runs from delivery to collection. Off "
    "rent may move from earliest (all days in use worked) to latest: say what notice you need."
)
WITH_EACH: Mapping[RentalKind, tuple[str, ...]] = {
    "machine": (
        "Gauge for force and drag; calibration certificate under 12 months old",
        "Inserts for every size on the line; heater and facer for the same",
        "Sound heater coating, spare coating kit and spare set of facer blades",
        "Chart of gauge pressure of the machine, which governs",
        "Weight of each part to be lifted, and its lifting points",
        "Pipe stands or rollers; data logger with export as text, if you have it",
    ),
    "generator": (
        "Panel, outlets, cable to suit the supply on the line; ground rod, clamp",
        "Tank size, fuel at half and full load, service interval",
        "Weight with a full tank, and lifting points",
        "Say if the voltage dip at motor start stays within the limit on the line",
    ),
    "lifting": (
        "Load chart: radius up to which it lifts the weight on the line",
        "Certificate of the last examination; own weight for transport",
        "Slings or attachment for plastic pipe that do not mark it",
        "With or without operator",
    ),
}
FORCES = (
    "Forces hold the top of the interfacial pressure range; drag comes on top. If your machine "
    "asks for another gauge reading, send its chart."
)
"""Stands at the foot of the page for machines."""
DATES = ("Deliver by", "Off rent", "Earliest off", "Latest off")
RATES = ("Day", "Week", "4 weeks", "Deliver", "Collect")
FROM = "From"
TERMS = (
    "Min rental period, days", "Hours per day, week, 4 weeks", "Price of an excess hour, {money}",
    "Night shift, multiple of the rate", "Standby while held by others, {money} a day",
    "Damage waiver, %", "Cleaning, {money}", "Fuel on return, {money} a {volume}",
    "Exchange on breakdown, h", "Technician for setup, {money} a day",
    "Weight for transport, {mass}", "Quote valid until",
)  # fmt: skip


SITE: Sequence[tuple[str, str]] = (
    ("access", "Site and access"), ("unloading", "Unloading"), ("site_power", "Power on site"),
    ("delivery_hours", "Deliveries"), ("contact", "Contact"),
)  # fmt: skip
UNKNOWN = RequestTerms()
HALF = 5
"""Columns of the page's left part."""
POINT = "\N{BULLET} "
TO_WRITE, SHORT = "_" * 16, "_" * 8
"""What stands for a term that is not known, to write on."""
WHOLE = re.compile(r"DR \d[\d.]*(?: to [\d.]+)?|(?<=\d) (?!to\b|and\b|\()")
"""Blanks that end no line: between a figure and its unit, and in a span of ratios."""
ANSWER, TERM, APART = 20.0, 17.0, 6.0
"""Heights in points of the rows to answer in, and of the blank ones that keep parts apart."""
BRIEF_DIGITS = 4
"""Digits of a figure in the units that are not the job's; a whole number keeps all of its own."""


def request_page(
    context: Context,
    kind: RentalKind,
    lines: Sequence[RequestLine],
    terms: RequestTerms = UNKNOWN,
) -> SheetSpec:
    """Return the page for the suppliers of one kind of equipment; ``terms`` are the site's."""
    supplier, own = SUPPLIERS[kind], [line for line in lines if line.kind == kind]
    about = _about(context, terms)

    def build(again: frozenset[int]) -> SheetSpec:
        sheet = SheetBuilder(context, supplier.sheet, "Rental request", about, again)
        sheet.result = Cell(f"To: supplier of {supplier.what}", "result")
        return _filled(sheet, kind, own, terms)

    return with_headers_again(build)


def _filled(
    sheet: SheetBuilder, kind: RentalKind, lines: Sequence[RequestLine], terms: RequestTerms
) -> SheetSpec:
    context, cover = sheet.context, sheet.context.estimate.job.cover
    by = f"From {cover.company}. " if cover.company else ""
    sheet.add(height=APART)
    _text(sheet, f"{by}{ASK}", "plain_wrap")
    year = _year_of(lines)
    dates = (header_text(head, year) for head in DATES)
    heads = (
        "Line", "What it must do", "Qty", *dates, header_text("Days", "in use"),
        header_text("Shift", written("h", context.system)),
    )  # fmt: skip
    header = sheet.add(*(Cell(head, "header") for head in heads))
    for line in lines:
        sheet.head_again(header)
        _line(sheet, line, "top_day" if year else "top_date")
    _with_each_and_site(sheet, kind, _site(context, kind, lines, terms))
    _answer(sheet, lines)
    if kind == "machine":
        _text(sheet, FORCES, "note")
    return replace(sheet.spec(), widths=WIDTHS, landscape=False, exact_widths=True, closes_up=True)


def _about(context: Context, terms: RequestTerms) -> str:
    """Return number and date of the request, and the day to answer, with room to write both."""
    made = show_date(context.estimate.job.cover.estimate_date, context.system)
    answer = show_date(terms.answer_by, context.system) if terms.answer_by else SHORT
    return f"Request {terms.reference or SHORT} of {made}; answer by {answer}"


def _year_of(lines: Sequence[RequestLine]) -> str:
    """Return the year of all dates of the lines, empty where they are of several."""
    dates = (line.dates for line in lines)
    years = {date.year for of_line in dates for date in of_line}
    return str(years.pop()) if len(years) == 1 else ""


def _site(
    context: Context, kind: RentalKind, lines: Sequence[RequestLine], terms: RequestTerms
) -> Iterator[tuple[str, str]]:
    """Yield what is known of the site, with a line to write on for what is not."""
    job, system = context.estimate.job, context.system
    air = MonthlyAmbient.of(job).range_over(_days_on_rent(lines))
    elevation = show(job.site.elevation_m, "length", system)
    shown = _from_to(*(show(end, "temperature", system) for end in air))
    yield "Elevation and air", f"{elevation}, {shown}"
    has_sets = any(span.kind == "generator" for span in context.estimate.fleet.spans)
    sets = "none but these generators" if kind == "generator" else "our generators"
    known = {
        "site_power": sets if has_sets else None,
        "delivery_hours": f"working days, {job.dates.workdays}",
        "contact": job.cover.company_contact or _to_call(job.cover.prepared_by),
    }
    for key, words in SITE:
        yield words, getattr(terms, key) or known.get(key) or TO_WRITE


def _to_call(name: str | None) -> str | None:
    """Return a name with room for a number to call."""
    return f"{name}, {SHORT}" if name else None


def _days_on_rent(lines: Sequence[RequestLine]) -> Iterator[dt.date]:
    """Yield each day from delivery to collection of some line."""
    for line in lines:
        for number in range((line.off_rent - line.deliver_by).days + 1):
            yield line.deliver_by + dt.timedelta(number)


def _text(sheet: SheetBuilder, text: str, style: str) -> None:
    row = sheet.add(Cell(text, style))
    sheet.merge(row, 1, len(WIDTHS))


def _with_each_and_site(
    sheet: SheetBuilder, kind: RentalKind, site: Iterable[tuple[str, str]]
) -> None:
    """Add what comes with each line and, beside it, the site, with room for what is not known."""
    head = sheet.section(_named_again(sheet, "With each, and please state"), HALF)
    sheet.put(head, HALF + 1, Cell("Site and supply", "section"))
    facts = (f"{words}: {text}" for words, text in site)
    listed = (f"{POINT}{text}" for text in WITH_EACH[kind])
    for left, right in zip_longest(listed, facts):
        row = sheet.add(*_run_of(left, HALF), *_run_of(right, len(WIDTHS) - HALF))
        sheet.merge(row, 1, HALF)
        sheet.merge(row, HALF + 1, len(WIDTHS))


def _named_again(sheet: SheetBuilder, title: str) -> str:
    """Return the title of a section, after that of the page where the section begins one."""
    return f"Rental request. {title}" if sheet.begins_page else title


def _run_of(text: str | None, columns: int) -> Sequence[Cell]:
    """Return a text, and the cells that it is merged with."""
    return [Cell(text, "plain_wrap"), *[Cell(None, "plain_wrap")] * (columns - 1)]


def _line(sheet: SheetBuilder, line: RequestLine, date_style: str) -> None:
    """Add a line: what it is and when, and in a row of its own all that it must do."""
    wants = map(partial(kept_whole, WHOLE), wanted(line, sheet.context.system))
    row = sheet.add(
        Cell(line.number, "figure_top"),
        Cell(next(wants), "top_wrap"),
        Cell(line.quantity, "top_int"),
        *(Cell(date, date_style) for date in line.dates),
        Cell(line.work_days, "top_int"),
        Cell(line.shift_hours, "top_num1"),
    )
    text = Cell(". ".join(wants), "text_top")
    below = sheet.text_row(len(WIDTHS), [Cell(None, "figure_top")], text)
    sheet.merges.append(f"A{row}:A{below}")


def wanted(line: RequestLine, system: UnitSystem) -> Iterator[str]:
    """Yield what a line must do, in the job's units and in the other ones."""
    need = line.need
    if isinstance(need, MachineNeed):
        od, other_od = _both_spans(need.od_mm, "small_length", system)
        yield f"Fusion machine for {od} OD, {_ratio(need)}"
        yield f"OD {other_od}"
        force = least_force(need.force_n, system)
        yield f"End force at least {force} plus drag"
        yield from _gauge(need, system)
        yield f"Inserts for {sizes_label(need.sizes)}"
        yield "With onboard power" if need.own_power else f"Supply: {need.supply or 'to state'}"
    elif isinstance(need, PowerWanted):
        yield (
            f"Generator, {need.running_kw:.1f} kW running, {need.starting_kw:.1f} kW at motor start"
        )
        yield f"Outlets for {need.supply or 'the supply that the machines need'}"
        yield (
            f"Running {need.running_kva:.1f} kVA; dip of voltage at motor start {need.dip:.0%} "
            "at most"
        )
        yield (
            f"At {both(need.elevation_m, 'length', system)} above sea level and "
            f"{both(need.hottest_c, 'temperature', system)}: {need.rated_kw:.1f} kW rated or more"
        )
    elif isinstance(need, LiftNeed):
        yield f"Lifting equipment for {both(need.mass_kg, 'mass', system)} at the working radius"
        yield f"Pipe sticks {both(need.stick_m, 'length', system)} long"
    if line.nights:
        yield "Works by night too"


def _gauge(need: MachineNeed, system: UnitSystem) -> Iterator[str]:
    """Yield what the gauge of a hydraulic machine must show, and for which piston area."""
    if need.gauge_mpa is not None and need.piston_area_mm2 is not None:
        yield (
            f"Gauge {_span(need.gauge_mpa, 'pressure', system)} with drag, piston area "
            f"{both(need.piston_area_mm2, 'area', system)}"
        )


def least_force(force_n: float, system: UnitSystem) -> str:
    """Return a force in both units, rounded up to a pound and a tenth of a kilonewton.

    >>> least_force(59875.0, "US")
    '13,461 lbf (59.9 kN)'
    """
    pounds = f"{math.ceil(from_si(force_n, 'lbf') - TINY):,} lbf"
    kilonewtons = f"{math.ceil(10 * from_si(force_n, 'kN') - TINY) / 10:,.1f} kN"
    first, other = (pounds, kilonewtons) if system == "US" else (kilonewtons, pounds)
    return f"{first} ({other})"


def both(value: float, kind: str, system: UnitSystem) -> str:
    """Return a value in the job's units with the other ones in brackets.

    >>> both(610.0, "small_length", "US")
    '24.016 in (610 mm)'
    """
    return f"{show(value, kind, system)} ({_in_brief(show(value, kind, OTHER[system]))})"


def _in_brief(shown: str) -> str:
    """Return a figure with its unit to four digits.

    >>> [_in_brief(shown) for shown in ("35.433 in", "441.96 mm", "12,424 lb", "31.496 in")]
    ['35.43 in', '442 mm', '12,424 lb', '31.5 in']
    """
    number, _, unit = shown.partition(" ")
    whole = number.replace(",", "").partition(".")[0].lstrip("-")
    places = max(0, BRIEF_DIGITS - len(whole))
    brief = f"{round_quantity(float(number.replace(',', '')), places):,.{places}f}"
    return f"{brief.rstrip('0').rstrip('.') if places else brief} {unit}"


def _span(ends: tuple[float, float], kind: str, system: UnitSystem) -> str:
    own, other = _both_spans(ends, kind, system)
    return f"{own} ({other})"


def _both_spans(ends: tuple[float, float], kind: str, system: UnitSystem) -> tuple[str, str]:
    """Return a span in the job's units and in the other ones."""
    own = _from_to(*(show(end, kind, system) for end in ends))
    return own, _from_to(*(_in_brief(show(end, kind, OTHER[system])) for end in ends))


def _from_to(low: str, high: str) -> str:
    """Return two figures, which name their unit once."""
    return high if low == high else f"{low.partition(' ')[0]} to {high}"


def _ratio(need: MachineNeed) -> str:
    name = " or ".join(sorted({ratio_label(system) for system in need.od_systems}))
    low, high = (f"{dr:g}" for dr in need.dr)
    return f"{name} {low}" if low == high else f"{name} {low} to {high}"


def _answer(sheet: SheetBuilder, lines: Sequence[RequestLine]) -> None:
    """Add the cells in which the supplier answers."""
    currency = sheet.context.currency
    title = "Your quote: please fill in, or send the same figures"
    sheet.section(_named_again(sheet, title), len(WIDTHS))
    rates = (Cell(header_text(head, currency), "header_center") for head in RATES)
    blanks = [Cell(None, "header_center")]
    row = sheet.add(
        Cell("Line", "header"),
        Cell(header_text("Offered", "make, model, range"), "header"),
        *rates,
        Cell(header_text(FROM, "date"), "header_center"),
        *blanks,
    )
    last = len(WIDTHS)
    sheet.merge(row, last - 1, last)
    for line in lines:
        row = sheet.add(
            Cell(line.number, "figure_left"), *[Cell(None, "answer")] * (last - 1), height=ANSWER
        )
        sheet.merge(row, last - 1, last)
    sheet.add(height=APART)
    _terms(sheet)


def _terms(sheet: SheetBuilder) -> None:
    """Add the cells for the supplier's terms, in two columns."""
    system = sheet.context.system
    units = {"money": sheet.context.currency, "mass": written(unit_of("mass", system), system),
             "volume": "gallon" if system == "US" else "liter"}  # fmt: skip
    terms = [term.format(**units) for term in TERMS]
    half = (len(terms) + 1) // 2
    blank = [Cell(None, "answer")]
    for left, right in zip(terms[:half], terms[half:], strict=True):
        beside = Cell(right, "text_after")
        row = sheet.add(
            Cell(left, "text"), None, None, *blank, beside, None, None, *blank * 2, height=TERM
        )
        sheet.merge(row, 1, 3)
        sheet.merge(row, 5, 7)
        sheet.merge(row, 8, 9)
