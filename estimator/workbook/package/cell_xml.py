"""What stands in one cell of a worksheet part: its style, its value, its formula.

Text goes in as inline strings, so that the shared strings of a workbook stay as they are.
"""

import datetime as dt
import math

from estimator.workbook.sheet.cell_text import escape, fitting, stored
from estimator.workbook.sheet.spec import Value, needs_array
from estimator.workbook.sheet.styles import STYLES, StyleIds

LONGEST_FORMULA = 8192
FORMULA_SIGNS = frozenset("=+-@\t\r")


class CellWriter:
    """Writes cells, each after its address."""

    def __init__(self, style_ids: StyleIds, *, dates_1904: bool) -> None:
        self.ids, self._dates_1904 = style_ids, dates_1904

    def rest(self, value: Value, style: str, formula: str | None, place: str) -> str:
        """Return the XML of a cell from after its address on."""
        if formula is not None:
            return f' s="{self.ids.cells[style]}"{self.formula(value, formula, place)}</c>'
        if value is None:
            return f' s="{self.ids.cells[style]}"/>'
        if isinstance(value, str):
            return self.text(value, style)
        kind, shown = self.plain(value, place)
        return f' s="{self.ids.cells[style]}"{kind}><v>{shown}</v></c>'

    def text(self, text: str, style: str) -> str:
        """Return the XML of a text from after its address on."""
        text = fitting(text)
        ids = self.ids.quoted if text and text[0] in FORMULA_SIGNS else self.ids.cells
        below = STYLES[style].below
        if below and "\n" in text:
            return f' s="{ids[style]}" t="inlineStr"><is>{self._runs(text, style, below)}</is></c>'
        keep = ' xml:space="preserve"' if text != " ".join(text.split()) else ""
        return f' s="{ids[style]}" t="inlineStr"><is><t{keep}>{escape(text)}</t></is></c>'

    def _runs(self, text: str, style: str, below: str) -> str:
        """Return a text in two looks: the last line has one of its own."""
        noun, _, unit = text.rpartition("\n")
        return "".join(
            f'<r>{self.ids.runs[key]}<t xml:space="preserve">{escape(part)}</t></r>'
            for key, part in ((style, f"{noun}\n"), (below, unit))
        )

    def plain(self, value: bool | float | str | dt.date, place: str) -> tuple[str, str]:
        """Return the type of a value, as an attribute, and its text."""
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"number in {place} must be finite, got {value}")
        if isinstance(value, str):
            value = fitting(value)
        kind, text = stored(value, dates_1904=self._dates_1904)
        return f' t="{kind}"' if kind else "", text

    def formula(self, value: Value, formula: str, place: str) -> str:
        """Return the formula of a cell with its value, after its style."""
        if len(formula) > LONGEST_FORMULA:
            raise ValueError(f"formula in {place} must have {LONGEST_FORMULA} letters or less")
        if not formula or formula.startswith("="):
            raise ValueError(f"formula in {place} must be without '=', got {formula!r}")
        opened = f'<f t="array" ref="{place}">' if needs_array(formula) else "<f>"
        if value is None:
            return f">{opened}{escape(formula)}</f>"
        kind, shown = self.plain(value, place)
        return f"{kind}>{opened}{escape(formula)}</f><v>{shown}</v>"
