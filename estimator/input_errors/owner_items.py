"""Rules of the owner's bid items: what joins another row says nothing of its own."""

from collections.abc import Iterator

from estimator.input_errors.entries import Broken, Entry, Sheets, broken

TABLE = "owner_items"
OF_THE_FIRST = ("owner_text", "unit", "price")


def said_once(sheets: Sheets) -> Iterator[Broken]:
    """Refuse wording, unit and price in a row that joins the item of an earlier one."""
    first: dict[str, Entry] = {}
    for entry in sheets.rows(TABLE):
        number = entry.get("owner_no")
        if number is None:
            continue
        before = first.setdefault(number, entry)
        for key in OF_THE_FIRST if before is not entry else ():
            if entry.get(key) is not None:
                message = f"Item {number} is worded and priced in its first row. Clear this cell"
                yield broken(TABLE, entry, key, message)


RULES = (said_once,)
