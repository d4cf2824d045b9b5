"""The generated page of symbols: meaning, unit in both systems, and where each is found."""

from workbook_template.content import own_rows
from workbook_template.markdown import GENERATED, table_lines

INTRO = (
    "For anyone who reads the equations of [Method](method.md). Units are those of the",
    "result sheets;",
    "programs have SI throughout, with the unit at the end of the name",
    "([From Python](python.md)).",
)
HEAD = ("symbol", "meaning", "US", "SI", "column of Joints", "name in programs")


def nomenclature_page() -> str:
    """Return the table of symbols."""
    rows = (
        (
            f"`{row['symbol']}`", row["meaning"], row["us"], row["si"], row["result"],
            f"`{row['field']}`" if row["field"] else "",
        )
        for row in own_rows("nomenclature.csv")
    )  # fmt: skip
    lines = ["# Nomenclature", "", GENERATED, "", *INTRO, "", *table_lines(HEAD, rows), ""]
    return "\n".join(lines)
