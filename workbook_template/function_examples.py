"""An example of each cell function, for the Functions sheet and the page of the docs."""

from collections.abc import Mapping
from dataclasses import dataclass

from estimator.display import UnitSystem
from estimator.excel import functions
from estimator.excel.cell_functions.arguments import ARGUMENTS
from estimator.excel.cell_functions.reading import Like, field_of
from estimator.excel.cell_functions.support import FunctionHelp
from estimator.inputs.dictionary import Field, fields
from workbook_template.content import Value, own_rows, table_rows, typed

MACHINES, MACHINES_RANGE = "machines", "machines_range"
PLAIN_NUMBER = ("job", "startup_min")
"""An input whose cells look as those of a plain number."""


@dataclass(frozen=True)
class Example:
    """One function with a value for each argument, None for one that is left blank."""

    function: FunctionHelp
    values: Mapping[str, Value]

    @property
    def takes_machines(self) -> bool:
        """Whether one of the arguments is the Machines table."""
        return MACHINES_RANGE in self.values

    def result(self, system: UnitSystem, job: str | None = None) -> float | str:
        """Return what the function gives, with the machines of the template or of a job."""
        given = {
            name: machine_rows(system, job) if name == MACHINES_RANGE else value
            for name, value in self.values.items()
        }
        found: float | str = getattr(functions, self.function.name)(**given)
        return found

    @property
    def formula(self) -> str:
        """The call as one types it, blanks at its end left out."""
        texts = [formula_text(name, value) for name, value in self.values.items()]
        while texts and not texts[-1]:
            texts.pop()
        return f"={self.function.name}({', '.join(texts)})"


def examples(system: UnitSystem) -> tuple[Example, ...]:
    """Return the example of every cell function, in the order of the catalog."""
    return tuple(
        Example(known, {a.name: _value(known.name, a.name, system) for a in known.arguments})
        for known in functions.catalog()
    )


def input_field(argument: str) -> Field:
    """Return the input whose cells look as those of an argument should."""
    reading = ARGUMENTS[argument].reading
    return field_of(*((reading.table, reading.key) if isinstance(reading, Like) else PLAIN_NUMBER))


def formula_text(argument: str, value: Value) -> str:
    """Return a value as a formula holds it: text in quotes, a range and a number as they are."""
    if value is None:
        return ""
    return f'"{value}"' if isinstance(value, str) and argument != MACHINES_RANGE else f"{value}"


def machine_rows(system: UnitSystem, job: str | None) -> list[list[Value]]:
    """Return the cells of the Machines table, its header row first."""
    known = fields(MACHINES)
    body = ([row[field.key] for field in known] for row in table_rows(MACHINES, system, job))
    return [[field.header for field in known], *body]


def _value(function: str, argument: str, system: UnitSystem) -> Value:
    for row in own_rows("function_examples.csv"):
        if (row["function"], row["argument"]) == (function, argument):
            return _typed(argument, row[system.lower()])
    return None


def _typed(argument: str, text: str) -> Value:
    if argument in (MACHINES_RANGE, "length"):
        return text
    return typed(input_field(argument), text)
