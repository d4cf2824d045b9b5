"""What the line of a group of input cells says: which of them differ from a new workbook's."""

from collections.abc import Sequence

from workbook_template.content import Value

LONGEST_LIST, MORE = 78, " ..."
"""Letters of the names that two lines of the page hold, and what stands for those left out."""
VALUE_COLUMN, LABEL_COLUMN = "B", "A"


def changed_text(cells: Sequence[tuple[int, Value]]) -> str:
    """Return the formula that names the changed ones of some rows, given their defaults.

    >>> changed_text([(7, 10)])[:65]
    '=IF(0+(B7<>10)=0,"at its default",0+(B7<>10)&" of 1 changed: "&MI'
    """
    differ = [f"{VALUE_COLUMN}{row}<>{_literal(default)}" for row, default in cells]
    count = "+".join(["0", *(f"({one})" for one in differ)])
    names = "&".join(
        f'IF({one},", "&{LABEL_COLUMN}{row},"")'
        for one, (row, _) in zip(differ, cells, strict=True)
    )
    more = f'IF(LEN({names})>{LONGEST_LIST + 2},"{MORE}","")'
    shown = f"MID({names},3,{LONGEST_LIST})&{more}"
    every = len(cells)
    none, some = f'"{_at_defaults(every)}"', f'{count}&" of {every} changed: "&{shown}'
    return f"=IF({count}=0,{none},{some})"


def changed_now(every: int, names: Sequence[str]) -> str:
    """Return what the formula gives where these of so many are changed."""
    if not names:
        return _at_defaults(every)
    text = ", ".join(names)
    more = MORE if len(text) > LONGEST_LIST else ""
    return f"{len(names)} of {every} changed: {text[:LONGEST_LIST]}{more}"


def _at_defaults(every: int) -> str:
    return f"all {every} at defaults" if every > 1 else "at its default"


def _literal(value: Value) -> str:
    if value is None:
        return '""'
    if isinstance(value, str):
        return '"{}"'.format(value.replace('"', '""'))
    if isinstance(value, int | float):
        return repr(value)
    raise TypeError(f"no literal for {value!r}")
