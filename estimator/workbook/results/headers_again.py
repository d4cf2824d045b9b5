"""Gives the tables of a sheet their headers again where a page begins in one of them."""

from collections.abc import Callable
from dataclasses import replace

from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.spec import SheetSpec


def with_headers_again(build: Callable[[frozenset[int]], SheetSpec]) -> SheetSpec:
    """Return a sheet whose tables have their headers again at the top of pages that they fill.

    ``build`` makes it for the rows, as ``SheetBuilder`` takes them, with which pages begin. The
    sheet without such headers says which these are, with room kept for a header on each page.
    """
    plain = build(frozenset())
    pages = laid_out(replace(plain, own_headers=True))
    begins = frozenset(last + 1 for last in pages.breaks)
    return build(begins) if begins else plain
