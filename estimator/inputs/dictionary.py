"""The data dictionary of the input sheets: one description for reader, template and docs."""

import csv
from collections.abc import Mapping, Sequence, Set
from dataclasses import replace
from functools import cache
from importlib import resources
from types import MappingProxyType

from estimator.data_class import dataclass
from estimator.display import UNIT_LABELS, UnitSystem
from estimator.inputs.trade_units import written
from estimator.models.kinds import COST_TYPES, FITTING_KINDS, ITEM_NAMES, WORK_KINDS

PLAIN_LABELS: Mapping[str, str] = MappingProxyType(
    {
        "percent": "%",
        "minutes": "min",
        "hours": "h",
        "factor": "-",
        "count": "-",
        "ratio": "-",
        "duration": "min:s",
        "clock": "h:min:s",
    }
)
"""Unit shown for kinds that are the same in both unit systems and are not converted."""

CHOICES_OF_KINDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "kinds of work": WORK_KINDS,
        "kinds of piece": ITEM_NAMES,
        "kinds of fitting": FITTING_KINDS,
        "kinds of cost": tuple(kind.name for kind in COST_TYPES),
    }
)
"""Choices that stand in a table of kinds, by what the data dictionary calls that table."""

TEXT, SHEETS = "text", "sheets"
"""What an input is for that changes no figure: a text on which no result rests (the Bid sheet
follows the names on it by itself), or what result sheets show."""

WORKED, FILLED = "worked", "filled"
"""Of the site tables: the kind of a column that is a formula and is not read, and the use of one
that the command fills in."""


@dataclass(frozen=True)
class InputTable:
    """One input table or set of named cells; one that is not needed may be missing."""

    table: str
    sheet: str
    excel_name: str
    form: str
    needed: bool
    title: str
    note: str


@dataclass(frozen=True)
class Field:
    """One input: a column of a table, or a named cell.

    ``kind`` is what sort of thing it holds (text, choice, choices, weekdays, size, ratio, date,
    count, number, segments, money, clock, duration, a physical kind, any for what another column
    names, or worked for a formula that is not read); ``per`` is the physical kind of a number or
    a formula, or what a money amount is for. ``minimum`` and
    ``maximum`` are in SI for physical kinds. ``use`` is empty for what changes a figure.
    ``old_headers``, ``old_names`` and ``old_choices`` (old, new) are what earlier workbooks hold;
    they are read as the present ones.
    """

    table: str
    key: str
    header: str
    kind: str
    per: str
    required: bool
    minimum: float | None
    maximum: float | None
    allowed: tuple[str, ...]
    default_us: str
    default_si: str
    basis: str
    use: str
    width: float
    note: str
    old_headers: tuple[str, ...] = ()
    old_names: tuple[str, ...] = ()
    old_choices: tuple[tuple[str, str], ...] = ()

    @property
    def headers(self) -> tuple[str, ...]:
        """Every header that names it, squeezed: the present one first."""
        return tuple(squeeze(header) for header in (self.header, *self.old_headers))

    @property
    def quantity(self) -> str:
        """Physical kind of the value, or empty where nothing is converted."""
        if self.kind in UNIT_LABELS:
            return "length" if self.kind == "segments" else self.kind
        return self.per if self.kind in ("number", WORKED) and self.per in UNIT_LABELS else ""

    def unit_label(self, system: UnitSystem, currency: str = "$") -> str:
        """Return the unit row's text, empty for text and dates."""
        if self.kind == "money":
            per = UNIT_LABELS[self.per][system] if self.per in UNIT_LABELS else self.per
            return f"{currency}/{per}"
        if self.quantity:
            return UNIT_LABELS[self.quantity][system]
        kind = self.per if self.kind in ("number", WORKED) and self.per else self.kind
        return PLAIN_LABELS.get(kind, "-" if self.kind == "number" else "")

    def unit_text(self, system: UnitSystem, currency: str = "$") -> str:
        """Return the unit as a cell writes it, in the trade's spelling."""
        before, slash, per = self.unit_label(system, currency).rpartition("/")
        if self.kind == "money":
            return f"{before}{slash}{written(per, system)}"
        return written(self.unit_label(system, currency), system)

    def default(self, system: UnitSystem) -> str:
        """Return the template's default in the units of that system, empty for none."""
        return self.default_us if system == "US" else self.default_si

    @property
    def cell_name(self) -> str:
        """Defined name of a named cell."""
        return f"{'rate' if self.table == 'rates' else self.table}_{self.key}"

    @property
    def cell_names(self) -> tuple[str, ...]:
        """Defined names under which its cell is looked for, the present one first."""
        return (self.cell_name, *self.old_names)


def squeeze(text: str) -> str:
    """Return a text without any white space and without regard to case, to compare it.

    >>> squeeze("Stick or  coil length")
    'stickorcoillength'
    """
    return "".join(text.split()).casefold()


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files(__package__).joinpath(name).read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def _rows_by_table() -> Mapping[str, Sequence[dict[str, str]]]:
    """Return the rows of every input by the table that it stands in."""
    by_table: dict[str, list[dict[str, str]]] = {}
    for row in (*_rows("inputs.csv"), *_rows("site_inputs.csv")):
        by_table.setdefault(row["table"], []).append(row)
    return MappingProxyType(by_table)


def _number(text: str) -> float | None:
    return float(text) if text else None


def _allowed(text: str) -> tuple[str, ...]:
    """Return the choices that a row lists, or those of the table of kinds that it names."""
    if text in CHOICES_OF_KINDS:
        return CHOICES_OF_KINDS[text]
    return tuple(text.split("|")) if text else ()


@cache
def input_tables() -> tuple[InputTable, ...]:
    """Return every input table of an estimate in the order of the workbook's sheets."""
    return _tables("input_tables.csv")


@cache
def site_tables() -> tuple[InputTable, ...]:
    """Return the tables of what is written down on site; an estimate reads none of them."""
    return _tables("site_tables.csv")


def _tables(name: str) -> tuple[InputTable, ...]:
    return tuple(
        InputTable(
            table=row["table"],
            sheet=row["sheet"],
            excel_name=row["excel_name"],
            form=row["form"],
            needed=row["needed"] == "yes",
            title=row["title"],
            note=row["note"],
        )
        for row in _rows(name)
    )


@cache
def fields(table: str) -> tuple[Field, ...]:
    """Return the fields of one table in their order on the sheet."""
    return tuple(
        Field(
            table=row["table"],
            key=row["key"],
            header=row["header"],
            kind=row["kind"],
            per=row["per"],
            required=row["required"] == "yes",
            minimum=_number(row["min"]),
            maximum=_number(row["max"]),
            allowed=_allowed(row["allowed"]),
            default_us=row["default_us"],
            default_si=row["default_si"],
            basis=row["basis"],
            use=row["use"],
            width=float(row["width"]),
            note=row["note"],
            old_headers=tuple(old for old, _ in _aliases(table, row["key"], "header")),
            old_names=tuple(old for old, _ in _aliases(table, row["key"], "name")),
            old_choices=_aliases(table, row["key"], "choice"),
        )
        for row in _rows_by_table().get(table, ())
    )


@cache
def keys_of(table: str) -> frozenset[str]:
    """Return the keys of the fields of a table, none for a table that there is not."""
    return frozenset(field.key for field in fields(table))


@cache
def _all_aliases() -> Mapping[tuple[str, str, str], tuple[tuple[str, str], ...]]:
    aliases: dict[tuple[str, str, str], tuple[tuple[str, str], ...]] = {}
    for row in _rows("input_aliases.csv"):
        key = row["table"], row["key"], row["what"]
        aliases[key] = (*aliases.get(key, ()), (row["old"], row["new"]))
    return MappingProxyType(aliases)


def _aliases(table: str, key: str, what: str) -> tuple[tuple[str, str], ...]:
    return _all_aliases().get((table, key, what), ())


@cache
def by_header(table: str) -> Mapping[str, Field]:
    """Return the fields of a table by each header, squeezed, that names them now or did before."""
    return MappingProxyType({header: f for f in fields(table) for header in f.headers})


def is_head(table: str, squeezed: Set[str]) -> bool:
    """Return whether these squeezed texts hold a header of every required column of a table."""
    return all(not squeezed.isdisjoint(f.headers) for f in fields(table) if f.required)


@cache
def values_if_absent(table: str) -> Mapping[str, str]:
    """Return what inputs without their cell or column count as, where it is not the default.

    So that a workbook from before an input gives the same estimate as it did.
    """
    return _counts_as(table, "absent")


@cache
def values_if_blank(table: str) -> Mapping[str, str]:
    """Return what inputs with a blank cell count as, where it is not the template's default."""
    return _counts_as(table, "blank")


def _counts_as(table: str, column: str) -> Mapping[str, str]:
    rows = (row for row in _rows("inputs_absent.csv") if row["table"] == table and row[column])
    return MappingProxyType({row["key"]: row[column] for row in rows})


LEFT_OUT, LEAVE_OUT = "left_out", "Omit"
"""Key and name of the change of a scenario that drops runs from the schedule, or their pipe."""
RUN_INPUTS = frozenset({"stick_length_m"})
"""Inputs of the schedule that a scenario may change, for every run at once."""


@cache
def overridable() -> Mapping[str, Field]:
    """Return the inputs that a scenario may change, by the header that names them."""
    named = next(field for field in fields("scenarios") if field.key == "input").allowed
    known = {field.header: field for field in fields("schedule") if field.key in RUN_INPUTS}
    known |= {field.header: field for field in fields("job")}
    name = next(field for field in fields("schedule") if field.key == "run_id")
    known[LEAVE_OUT] = replace(name, key=LEFT_OUT, header=LEAVE_OUT, old_headers=())
    return MappingProxyType({header: known[header] for header in named})
