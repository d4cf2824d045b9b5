"""What the line of a group of input cells says: which of them differ from a new workbook's."""

from collections.abc import Sequence

from estimator.display import counted
from workbook_template.content import Value

MORE, COMMA = ", and more", ", "
"""What stands for the names left out, and what parts names."""
CHANGED, AT_DEFAULTS = " changed", "all at defaults"
NAMES = f"{CHANGED}: "
"""What stands before the names of changed inputs."""
MARK = "|"
"""What takes the place of the last comma, to find it."""
VALUE_COLUMN, LABEL_COLUMN = "B", "A"


Cells = Sequence[tuple[int, Value]]
"""Rows of inputs with the defaults of their values."""


def changed_text(cells: Cells, longest: int) -> str:
    """Return the formula that names the changed ones of some rows, given their defaults.

    ``longest`` are the letters of the names for which there is room.

    >>> changed_text([(7, 10)], 52)[:62]
    '=IF(0+(B7<>10)=0,"all at defaults",0+(B7<>10)&" changed: "&IF('
    """
    count = _count(cells)
    names = "&".join(
        f'IF({_differs(row, default)},", "&{LABEL_COLUMN}{row},"")' for row, default in cells
    )
    held = f"MID({names},{len(COMMA) + 1},{longest})"
    commas = f'(LEN({held})-LEN(SUBSTITUTE({held},"{COMMA}","")))/{len(COMMA)}'
    last = f'FIND("{MARK}",SUBSTITUTE({held},"{COMMA}","{MARK}",{commas}))'
    too_long = f"LEN({names})>{longest + len(COMMA)}"
    shown = f'IF({too_long},LEFT({held},{last}-1)&"{MORE}",{held})'
    return f'=IF({count}=0,"{AT_DEFAULTS}",{count}&"{NAMES}"&{shown})'


def changed_now(names: Sequence[str], longest: int) -> str:
    """Return what the formula gives where these of so many are changed."""
    if not names:
        return AT_DEFAULTS
    text = COMMA.join(names)
    if len(text) > longest:
        text = text[:longest].rpartition(COMMA)[0] + MORE
    return f"{len(names)}{NAMES}{text}"


def rest_text(cells: Cells, groups: int, what: str) -> str:
    """Return the formula that says how many inputs stand in groups, and how many are changed.

    >>> rest_text([(7, 10)], 1, "more")
    '="1 more in 1 group, "&IF(0+(B7<>10)=0,"all at defaults",0+(B7<>10)&" changed")'
    """
    count = _count(cells)
    changed = f'IF({count}=0,"{AT_DEFAULTS}",{count}&"{CHANGED}")'
    return f'="{_rest(len(cells), groups, what)}"&{changed}'


def rest_now(every: int, groups: int, what: str, changed: int) -> str:
    """Return what that formula gives where so many of so many inputs are changed."""
    return _rest(every, groups, what) + (f"{changed}{CHANGED}" if changed else AT_DEFAULTS)


def _rest(every: int, groups: int, what: str) -> str:
    return f"{every} {what} in {counted(groups, 'group')}, "


def _count(cells: Cells) -> str:
    return "+".join(["0", *(f"({_differs(row, default)})" for row, default in cells)])


def _differs(row: int, default: Value) -> str:
    return f"{VALUE_COLUMN}{row}<>{_literal(default)}"


def _literal(value: Value) -> str:
    if value is None:
        return '""'
    if isinstance(value, str):
        return '"{}"'.format(value.replace('"', '""'))
    if isinstance(value, int | float):
        return repr(value)
    raise TypeError(f"no literal for {value!r}")
