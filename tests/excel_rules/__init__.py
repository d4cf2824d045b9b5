"""What makes Excel refuse or repair a workbook, looked for in the file itself.

Schema validators let most of it pass: a name that is a cell, a table header that differs from
its cell, a text one letter too long. ``faults`` names every such thing that it finds. The rules
come from the file format (ECMA-376), from the limits that Excel's own documentation states, and
from what is known to bring up the message that a workbook needs repair.
"""

from tests.excel_rules import (
    cell_rules,
    drawing_rules,
    package_rules,
    schema_rules,
    sheet_rules,
    style_rules,
    table_rules,
    workbook_rules,
)
from tests.excel_rules.book import Book

RULES = (
    *package_rules.RULES,
    *schema_rules.RULES,
    *workbook_rules.RULES,
    *style_rules.RULES,
    *cell_rules.RULES,
    *sheet_rules.RULES,
    *table_rules.RULES,
    *drawing_rules.RULES,
)


def faults(data):
    """Return what Excel would refuse in the bytes of a workbook, as ``part: text``."""
    book = Book(data)
    if book.damage:
        return book.damage
    return [fault for rule in RULES for fault in rule(book)]
