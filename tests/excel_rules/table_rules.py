"""Tables: names, ids, ranges, and headers equal to the cells that show them."""

from collections import Counter

from tests.excel_rules.book import Area, area_at, column_letters, main, unescaped
from tests.excel_rules.workbook_rules import is_name


def names_and_ids(book):
    """Names and ids of tables that are there twice, or names that are not allowed."""
    taken = {element.get("name", "").casefold() for element in book.defined_names}
    ids, names = Counter(), Counter()
    for _, part, root in book.tables:
        name = root.get("displayName", "")
        ids[root.get("id")] += 1
        names[name.casefold()] += 1
        if not is_name(name) or name.casefold() in taken:
            yield f"{part}: table name {name!r} is not allowed or is a defined name"
    for key, count in (*ids.items(), *names.items()):
        if count > 1:
            yield f"{book.workbook_part}: {count} tables have the name or id {key!r}"


def ranges(book):
    """Tables without a row of data, that overlap, or whose filter is not their own."""
    areas = []
    for sheet, part, root in book.tables:
        area = area_at(root.get("ref", ""))
        heads, totals = int(root.get("headerRowCount", 1)), int(root.get("totalsRowCount", 0))
        if area is None or area.bottom - area.top + 1 <= heads + totals:
            yield f"{part}: table over {root.get('ref')} has no row of data"
            continue
        if any(other == sheet and area.meets(seen) for other, seen in areas):
            yield f"{part}: table over {root.get('ref')} overlaps another"
        areas.append((sheet, area))
        body = Area(area.top, area.left, area.bottom - totals, area.right)
        for element in root.iterchildren(main("autoFilter")):
            if area_at(element.get("ref", "")) != body:
                yield f"{part}: filter over {element.get('ref')}, table over {root.get('ref')}"


def headers(book):
    """Columns: number, ids, names, and the text of the header cells."""
    for sheet, part, root in book.tables:
        columns = root.findall(f"{main('tableColumns')}/{main('tableColumn')}")
        area = area_at(root.get("ref", ""))
        names = [unescaped(column.get("name", "")) for column in columns]
        ids = Counter(column.get("id") for column in columns)
        if area is None or len(columns) != area.right - area.left + 1:
            yield f"{part}: {len(columns)} columns in {root.get('ref')}"
            continue
        if max(ids.values()) > 1 or "0" in ids:
            yield f"{part}: column ids {sorted(ids.elements())}"
        for name, count in Counter(map(str.casefold, names)).items():
            if count > 1 or not name:
                yield f"{part}: column {name!r} is empty or there {count} times"
        if int(root.get("headerRowCount", 1)):
            for offset, name in enumerate(names):
                place = f"{column_letters(area.left + offset)}{area.top}"
                shown = book.text_at(sheet, place)
                if shown != name:
                    yield f"{part}: column {name!r} has the header cell {shown!r}"


RULES = (names_and_ids, ranges, headers)
