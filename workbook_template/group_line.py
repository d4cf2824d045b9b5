"""What the line of a group of input cells says: which of them differ from a new workbook's."""

from collections.abc import Sequence

from workbook_template.content import Value

MORE, COMMA = ", and more", ", "
"""What stands for the names left out, and what parts names."""
MARK = "|"
"""What takes the place of the last comma, to find it."""
VALUE_COLUMN, LABEL_COLUMN = "B", "A"


def changed_text(cells: Sequence[tuple[int, Value]], longest: int) -> str:
    """Return the formula that names the changed ones of some rows, given their defaults.

    ``longest`` are the letters of the names for which there is room.

    >>> changed_text([(7, 10)], 52)[:65]
    '=IF(0+(B7<>10)=0,"1 field, at its default",0+(B7<>10)&" of 1 chan'
    """
    differ = [f"{VALUE_COLUMN}{row}<>{_literal(default)}" for row, default in cells]
    count = "+".join(["0", *(f"({one})" for one in differ)])
    names = "&".join(
        f'IF({one},", "&{LABEL_COLUMN}{row},"")'
        for one, (row, _) in zip(differ, cells, strict=True)
    )
    held = f"MID({names},{len(COMMA) + 1},{longest})"
    commas = f'(LEN({held})-LEN(SUBSTITUTE({held},"{COMMA}","")))/{len(COMMA)}'
    last = f'FIND("{MARK}",SUBSTITUTE({held},"{COMMA}","{MARK}",{commas}))'
    too_long = f"LEN({names})>{longest + len(COMMA)}"
    shown = f'IF({too_long},LEFT({held},{last}-1)&"{MORE}",{held})'
    every = len(cells)
    none, some = f'"{_at_defaults(every)}"', f'{count}&" of {every} changed: "&{shown}'
    return f"=IF({count}=0,{none},{some})"


def changed_now(every: int, names: Sequence[str], longest: int) -> str:
    """Return what the formula gives where these of so many are changed."""
    if not names:
        return _at_defaults(every)
    text = COMMA.join(names)
    if len(text) > longest:
        text = text[:longest].rpartition(COMMA)[0] + MORE
    return f"{len(names)} of {every} changed: {text}"


def _at_defaults(every: int) -> str:
    return f"{every} fields, all at defaults" if every > 1 else "1 field, at its default"


def _literal(value: Value) -> str:
    if value is None:
        return '""'
    if isinstance(value, str):
        return '"{}"'.format(value.replace('"', '""'))
    if isinstance(value, int | float):
        return repr(value)
    raise TypeError(f"no literal for {value!r}")
