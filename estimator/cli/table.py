"""Tables on the screen: a name at the left, figures lined up at the right."""

import textwrap
from collections.abc import Iterator, Sequence

INDENT = "    "


def in_columns(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield a line for each row, columns as wide as their widest text.

    Parameters
    ----------
    rows : sequence of sequences
        Texts, the heads first; each row has as many.

    Examples
    --------
    >>> list(in_columns([("Name", "Cost"), ("Two crews", "9.50")]))
    ['Name       Cost', 'Two crews  9.50']
    """
    first, *others = (max(map(len, column)) for column in zip(*rows, strict=True))
    for name, *numbers in rows:
        shown = "  ".join(f"{cell:>{width}}" for cell, width in zip(numbers, others, strict=True))
        yield f"{name:<{first}}  {shown}".rstrip()


def left_columns(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Yield a line for each row of texts, all lined up at the left.

    >>> list(left_columns([("Day", "What"), ("Mon 1", "a")]))
    ['Day    What', 'Mon 1  a']
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = (f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        yield "  ".join(cells).rstrip()


def below(text: str, width: int) -> list[str]:
    """Return what is said below a line of a table, indented and wrapped to a width."""
    return textwrap.wrap(text, width, initial_indent=INDENT, subsequent_indent=INDENT)
