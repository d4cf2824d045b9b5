"""Labor-hours by role, and the utilization of crews and machines: sections below a table."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from estimator.cost.labor import night_hours, role_hours
from estimator.plan.utilization import CrewUse, crew_use, machine_use
from estimator.workbook.results.builder import Scalar, SheetBuilder
from estimator.workbook.results.columns import ResultColumn, result_columns
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import Cell


@dataclass(frozen=True)
class Below:
    """Where the sections stand: their name in the first column, figures from one column on."""

    sheet: SheetBuilder
    figures_from: int
    width: int

    def head(self, title: str, columns: Sequence[ResultColumn]) -> None:
        """Append a section with the head of its table."""
        sheet = self.sheet
        sheet.add()
        sheet.section(title, self.width)
        top = sheet.last_row = sheet.next_row
        between = [Cell(None, "header")] * (self.figures_from - 2)
        sheet.put_head(top, 1, columns[:1])
        sheet.put(top, 2, *between)
        sheet.put_head(top, self.figures_from, columns[1:])

    def row(
        self,
        columns: Sequence[ResultColumn],
        values: Mapping[str, Scalar],
        formulas: Mapping[str, str | None],
    ) -> int:
        """Append a row of the table; return its number."""
        name, *figures = self.sheet.table_cells(columns, values, formulas)
        between = [Cell(None, name.style)] * (self.figures_from - 2)
        return self.sheet.add(name, *between, *figures)

    def letters(self, columns: Sequence[ResultColumn]) -> dict[str, str]:
        """Return the letters of the columns with figures, by key."""
        figures = enumerate(columns[1:], self.figures_from)
        return {column.key: column_letters(number) for number, column in figures}


@dataclass(frozen=True)
class PlanColumns:
    """References of the columns of the Plan sheet that the crews' minutes are added up from."""

    crew: str
    minutes: str


def add_labor(below: Below) -> None:
    """Append the labor-hours by role; anchors ``plan.<kind>.<role>`` point at them."""
    columns = result_columns("labor")
    sheet = below.sheet
    job, plan = sheet.context.estimate.job, sheet.context.estimate.plan
    below.head("Labor-hours by role", columns)
    hours = zip(role_hours(job, plan), night_hours(job, plan), strict=True)
    for entry, (role, night) in hours:
        values: dict[str, Scalar] = {**entry._asdict(), "role": role.role, "night": night}
        row = below.row(columns, values, {})
        for place, column in enumerate(columns[1:], below.figures_from):
            sheet.anchor(f"plan.{column.key}.{role.role}", place, row)


def add_crew_use(below: Below, lines: PlanColumns) -> None:
    """Append the utilization of the crews; anchors ``plan.crew_hours.<crew>`` point at hours."""
    columns = result_columns("crew_use")
    below.head("Crew utilization", columns)
    at = below.letters(columns)
    hours_column = below.figures_from + [column.key for column in columns].index("crew_hours") - 1
    estimate = below.sheet.context.estimate
    for use in crew_use(estimate.job, estimate.plan):
        row = below.sheet.next_row
        minutes, available = (f"{at[key]}{row}" for key in ("minutes", "available"))
        formulas = {
            "minutes": f"SUMIF({lines.crew},$A{row},{lines.minutes})",
            "share": f"IF({available}=0,0,{minutes}/{available})",
        }
        below.row(columns, _use_values(use), formulas)
        below.sheet.anchor(f"plan.crew_hours.{use.crew}", hours_column, row)


def _use_values(use: CrewUse) -> dict[str, Scalar]:
    return {
        "crew": use.crew,
        "work_days": use.work_days,
        "weather_days": use.weather_days,
        "labor_hours": use.labor_hours,
        "crew_hours": use.crew_hours,
        "minutes": use.minutes,
        "available": use.available_min,
        "share": use.minutes / use.available_min if use.available_min else 0.0,
    }


def add_machine_use(below: Below) -> None:
    """Append the utilization of the fusion machines."""
    columns = result_columns("machine_use")
    below.head("Machine utilization", columns)
    at = below.letters(columns)
    for use in machine_use(below.sheet.context.estimate.fleet):
        row = below.sheet.next_row
        values: dict[str, Scalar] = {
            "class_id": use.class_id,
            "days_in_use": use.days_in_use,
            "days_on_rent": use.days_on_rent,
            "share": use.days_in_use / use.days_on_rent,
        }
        share = f"{at['days_in_use']}{row}/{at['days_on_rent']}{row}"
        below.row(columns, values, {"share": share})
