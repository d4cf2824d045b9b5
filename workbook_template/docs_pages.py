"""The generated pages of docs/, from the data dictionaries and the help of the cell functions."""

import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from estimator.excel.cell_functions.support import FunctionHelp
from estimator.export.schema import json_schema
from estimator.inputs.dictionary import Field, InputTable, fields, input_tables, site_tables
from estimator.standards import tables
from estimator.units import from_si
from estimator.workbook.results.result_columns import result_columns
from workbook_template.command_page import commands_page
from workbook_template.content import package_folder, table_rows
from workbook_template.function_examples import Example, examples
from workbook_template.gallery import gallery_page
from workbook_template.index_page import index_page
from workbook_template.markdown import GENERATED, table_lines
from workbook_template.nomenclature import nomenclature_page
from workbook_template.pipe_pages import not_used_page, pipes_page
from workbook_template.rules import TIME_KINDS, plain

RESULT_TABLES = {
    "joints": "Joints",
    "by_week": "Plan by week",
    "by_week_crew": "Plan by week: by week and crew",
    "labor": "Labor: labor-hours by role",
    "crew_use": "Labor: crew utilization",
    "machine_use": "Labor: machine utilization",
    "plan": "Plan: by crew, run and day",
    "gantt": "Gantt",
    "hydrotest": "Hydrotests: by section",
    "hydro_hours": "Hydrotests: hours by section",
    "hydro_day": "Hydrotests: by day",
    "fleet": "Equipment: summary by class",
    "rental": "Equipment: on rent",
    "rental_why": "Equipment: why these classes",
    "beyond": "Equipment: excess hours",
    "choice": "Equipment choice: machine classes by pipe",
    "power": "Equipment choice: power",
    "generator_check": "Equipment choice: generators",
    "cost": "Cost",
    "compare": "Compare",
    "options": "Options",
    "explain": "Explain",
    "changes_step": "Changes: the price step by step",
    "changes_cost": "Changes: cost by type",
    "changes_input": "Changes: inputs",
    "baseline_run": "Baseline: by run",
    "baseline_lump": "Baseline: not earned by joints",
    "baseline_item": "Baseline: bid items",
    "baseline_day": "Baseline: by day",
    "claim": "Claim",
    "quotes": "Quote comparison",
    "past": "Past job times",
    "status_curve": "Status: labor-hours by week",
    "status_joints": "Status: joints by day",
    "status_pace": "Status: pace by day",
    "status_lost": "Status: lost time",
    "log_tally": "Log summary: by run, operator and machine",
    "log_open": "Log summary: open rejects, holds, incomplete joints",
    "log_due": "Log summary: coupons due",
    "log_cause": "Log summary: rejects by cause",
    "log_chart": "Log summary: percent of rejects",
}

EXCEL_CHECK = Path(__file__).parent.parent / "release_kit" / "files" / "excel_check.md"


def pages() -> Mapping[str, Callable[[], str]]:
    """Return the maker of each generated page by file name."""
    return {
        "workbook.md": workbook_page,
        "standards.md": standards_page,
        "functions.md": functions_page,
        "excel_check.md": check_page,
        "pipes.md": pipes_page,
        "not_used.md": not_used_page,
        "commands.md": commands_page,
        "gallery.md": gallery_page,
        "nomenclature.md": nomenclature_page,
        "package_index.md": index_page,
        "estimate.schema.json": schema_page,
    }


def schema_page() -> str:
    """Return the JSON Schema of an estimate."""
    return json.dumps(json_schema(), indent=1) + "\n"


def check_page() -> str:
    """Return the check that a person with Excel makes, as the kit holds it."""
    title, text = EXCEL_CHECK.read_text("utf-8").split("\n", 1)
    return f"{title}\n\n{GENERATED}\n{text}"


def workbook_page() -> str:
    """Return the reference of every input and result column."""
    lines = ["# Workbook reference", "", GENERATED, ""]
    lines += [
        "For anyone who looks up a sheet or a column.",
        "",
        "Inputs are Excel tables or named cells and are found by name. The unit row above each",
        "header (beside each named cell) is what counts; the units below are the template's.",
        "",
        "# Inputs",
        "",
    ]
    for table in input_tables():
        lines += _input_lines(table)
    lines += ["# Site records", "", "Added by `estimator log FILE --start`.", ""]
    for table in site_tables():
        lines += _input_lines(table)
    lines += ["# Results", ""]
    for key, title in RESULT_TABLES.items():
        lines += [f"## {title}", ""]
        lines += table_lines(
            ("header", "unit US / SI", "note"),
            (
                (c.header, _pair(c.unit("US", "$"), c.unit("SI", "$")), c.note)
                for c in result_columns(key)
            ),
        )
        lines.append("")
    return "\n".join(lines)


def _input_lines(table: InputTable) -> list[str]:
    where = f"table `{table.excel_name}`" if table.form == "table" else "named cells"
    name = "name" if table.form == "named cells" else "key"
    head = ("header", name, "unit US / SI", "required", "allowed", "default US / SI", "note")
    return [
        f"## {table.title}",
        "",
        f"Sheet **{table.sheet}**, {where}. {table.note}.",
        "",
        *table_lines(head, (_field_cells(field) for field in fields(table.table))),
        "",
    ]


def _field_cells(field: Field) -> tuple[str, ...]:
    name = field.cell_name if field.table in ("job", "rates") else field.key
    basis = f" ({field.basis})" if field.basis else ""
    return (
        field.header,
        f"`{name}`",
        _pair(field.unit_text("US"), field.unit_text("SI")),
        "yes" if field.required else "no",
        _allowed(field),
        _pair(field.default_us, field.default_si) + basis,
        field.note,
    )


def _pair(us: str, si: str) -> str:
    return us if us == si else f"{us} / {si}"


def _allowed(field: Field) -> str:
    if field.allowed:
        return ", ".join(field.allowed)
    if field.kind in TIME_KINDS:
        return TIME_KINDS[field.kind]
    if field.minimum is None or field.maximum is None:
        return ""
    if field.kind == "percent":
        return f"{100 * field.minimum:g} to {100 * field.maximum:g}%"
    if not field.quantity:
        return f"{plain(field.minimum)} to {plain(field.maximum)}"
    unit = field.unit_label("SI")
    low, high = (from_si(limit, unit) for limit in (field.minimum, field.maximum))
    return f"{plain(low)} to {plain(high)} {unit}"


def standards_page() -> str:
    """Return every table of standards' figures, row by row, with source and confidence."""
    lines = [
        "# Standards' figures",
        "",
        GENERATED,
        "",
        "For anyone who checks a figure of a standard.",
        "",
    ]
    lines += [
        "No standard was read in the original; *confirmed* means seen alike on several public",
        "pages of different publishers. Check every figure that matters against a licensed copy.",
        "",
        "## Sources",
        "",
    ]
    names = ("standard", "edition", "title", "how_read", "read_by", "note")
    rows = (tuple(str(row[name] or "") for name in names) for row in tables.sources().values())
    lines += [*table_lines(names, rows), "", *_to_be_confirmed(), ""]
    for name in tables.table_names():
        if name in ("sources", "columns"):
            continue
        columns = [column.name for column in tables.columns(name)]
        lines += [f"## {name}", ""]
        cells = (tuple(_text(row[c]) for c in columns) for row in tables.load(name))
        lines += [*table_lines(columns, cells), ""]
    return "\n".join(lines)


def _to_be_confirmed() -> list[str]:
    """Return, by source, the figures that rest on memory and what would confirm them."""
    found: dict[str, dict[str, None]] = {}
    for name in tables.table_names():
        if name not in ("sources", "columns"):
            for row in tables.find_rows(name, confidence="from memory"):
                found.setdefault(str(row["source"]), {})[f"{name}: {row['clause']}"] = None
    sources = tables.sources()
    rows = (
        (tables.source_name(sources[key]), "; ".join(figures), str(sources[key]["would_confirm"]))
        for key, figures in found.items()
    )
    return [
        "## From memory, and what would confirm it",
        "",
        "Each row of these tables that says *from memory* below. Where a figure decides a price,",
        "look it up and type your own: the overrides on the Job sheet.",
        "",
        *table_lines(("standard", "tables and clauses", "what would confirm them"), rows),
        "",
        f"Inputs whose default is remembered: {', '.join(_remembered_inputs())}. The data sheet of",
        "the machine or generator, or your own records, confirm them.",
        "",
        "Rows of a new workbook whose basis is memory, as their column Basis says:",
        "",
        *table_lines(("table", "rows", "what would confirm them"), remembered_rows()),
    ]


CONFIRMS = {
    "generators": "the data sheet of the set",
    "size_bands": "your own records of size changes",
    "task_times": "your own joint logs, or the sheet of the fitting's maker",
}
"""What would confirm a remembered row of a table, by table."""


def remembered_rows() -> Iterator[tuple[str, str, str]]:
    """Yield the rows of the input tables that rest on memory, and what would confirm them."""
    for one in input_tables():
        rows = table_rows(one.table, "US", None) if one.form == "table" else []
        remembered = [row for row in rows if "from memory" in str(row.get("basis", ""))]
        if remembered:
            names = "; ".join(str(next(iter(row.values()))) for row in remembered)
            yield one.title, names, CONFIRMS[one.table]


def _remembered_inputs() -> list[str]:
    """Return the headers of the inputs whose basis is memory, with their sheet."""
    return [
        f"*{field.header}* on {one.sheet}"
        for one in input_tables()
        for field in fields(one.table)
        if field.basis == "from memory"
    ]


def _text(value: object) -> str:
    if value is None:
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)


def functions_page() -> str:
    """Return the reference of the cell functions, each with an example in both unit systems."""
    lines = ["# Cell functions", "", GENERATED, ""]
    lines += [package_folder().joinpath("functions_intro.txt").read_text("utf-8").strip(), ""]
    for us, si in zip(examples("US"), examples("SI"), strict=True):
        lines += _function_lines(us.function)
        lines += [f"- `{us.formula}` gives {_gives(us, us.result('US'))}"]
        lines += [f"- `{si.formula}` gives {_gives(si, si.result('SI'))}", ""]
    return "\n".join(lines)


def _function_lines(function: FunctionHelp) -> list[str]:
    arguments = function.arguments
    rows = ((f"`{a.name}`", "" if a.optional else "yes", a.doc) for a in arguments)
    head = [f"## {function.name}", "", f"`{function.signature}`", "", function.description, ""]
    return [*head, *table_lines(("argument", "needed", "meaning"), rows), ""]


def _gives(example: Example, result: float | str) -> str:
    machines = " with the machines of the template" if example.takes_machines else ""
    return f"**{result if isinstance(result, str) else format(result, ',.6g')}**{machines}"
