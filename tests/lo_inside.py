"""What the LibreOffice engine asks for most, done inside the office, by its own Python.

From outside each property of each cell is a question and an answer between two processes, and a
press asks for thousands. Here a whole list of orders is one of them: see ``lo_engine.Inside``.
An order is its name, the number of its sheet, the area (top, left, bottom, right, counted from
0, or None for the whole sheet) and values that JSON can carry.

The office loads this file by its path: it imports nothing of ours.
"""

import json

COMPONENT = "tests.Inside"
DATE_TIME, LOGICAL = 6, 1024
ERRORS = 4
LOOKS = (
    "BottomBorder2", "CellBackColor", "CharColor", "CharHeight", "CharPosture", "CharWeight",
    "HoriJustify", "IsTextWrapped", "LeftBorder2", "NumberFormat", "RightBorder2", "TopBorder2",
    "VertJustify",
)  # fmt: skip
SIDES = ("Bottom", "Top", "Right", "Left")


def getComponentFactory(name, manager, key):
    """Answer the loader of the office."""
    import unohelper
    from com.sun.star.task import XJob

    class Inside(unohelper.Base, XJob):
        def __init__(self, context):
            self.context = context

        def execute(self, arguments):
            given = {argument.Name: argument.Value for argument in arguments}
            return carried_out(json.loads(given["orders"]), given["sheets"], given["documents"])

    helper = unohelper.ImplementationHelper()
    helper.addImplementation(Inside, COMPONENT, (COMPONENT,))
    return helper.getComponentFactory(name, key, manager)


def carried_out(orders, sheets, documents):
    """Carry out orders one after the other; return what the last one gives, as JSON.

    An area is looked up once for all its orders: each new object of the bridge takes its time.
    What would be painted is left until all is done.
    """
    found, places = None, {}
    for document in documents:
        document.addActionLock()
    try:
        for name, number, area, *values in together(orders):
            key = number, *(area or ())
            if key not in places:
                places[key] = Place(sheets[number], documents[number], area)
            found = ORDERS[name](places[key], *values)
    finally:
        for document in documents:
            document.removeActionLock()
    return json.dumps(found)


def together(orders):
    """Yield the orders, those side by side that set properties of the same cells as one."""
    waiting = None
    for name, number, area, *values in orders:
        plain = name == "put" and not values[0]
        if waiting and (not plain or waiting[1:3] != [number, area]):
            yield waiting
            waiting = None
        if plain:
            waiting = waiting or ["put_all", number, area, {}]
            waiting[3][values[1]] = values[2]
        else:
            yield name, number, area, *values
    if waiting:
        yield waiting


class Place:
    """An area of a sheet, and the document that it is of."""

    def __init__(self, sheet, document, area):
        self.sheet, self.document, self.area = sheet, document, area
        top, left, bottom, right = area or (0, 0, 0, 0)
        self.cells = sheet.getCellRangeByPosition(left, top, right, bottom) if area else sheet


# Contents


def values(place):
    """Return the values, and which of them are dates, truth values and errors: the areas."""
    kinds, formats = [], place.document.NumberFormats
    for cells, areas in alike(place):
        kind = formats.getByKey(cells.NumberFormat).Type
        if kind & (DATE_TIME | LOGICAL):
            kinds += [[kind & LOGICAL, area] for area in areas]
    errors = [
        [row, column, place.sheet.getCellByPosition(column, row).String]
        for area in place.cells.queryFormulaCells(ERRORS).RangeAddresses
        for row in range(area.StartRow, area.EndRow + 1)
        for column in range(area.StartColumn, area.EndColumn + 1)
    ]
    return place.cells.getDataArray(), kinds, errors


def formulas(place):
    return place.cells.getDataArray(), place.cells.getFormulaArray()


def array_formula(place):
    return place.cells.ArrayFormula


def set_array_formula(place, text):
    place.cells.setArrayFormula(text)


def write(place, rows, kept, typed):
    """Write plain values at once, without fitting the heights of the rows: the macro has that done.

    ``kept`` are the places whose number format the office would change and Excel not (24, May
    2027), ``typed`` the blocks of typed texts, each with the row and column where it starts.
    """
    cells = [place.cells.getCellByPosition(column, row) for row, column in kept]
    formats = [cell.NumberFormat for cell in cells]
    place.document.IsAdjustHeightEnabled = False
    place.cells.setDataArray(tuple(map(tuple, rows)))
    for cell, key in zip(cells, formats, strict=True):
        cell.NumberFormat = key
    for row, column, texts in typed:
        last_row, last_column = row + len(texts) - 1, column + len(texts[0]) - 1
        part = place.cells.getCellRangeByPosition(column, row, last_column, last_row)
        part.setFormulaArray(tuple(map(tuple, texts)))
    place.document.IsAdjustHeightEnabled = True


def tables(place):
    """Return name, area and whether there is a row of totals of each table on the sheet."""
    number = place.sheet.RangeAddress.Sheet
    ranges = place.document.DatabaseRanges
    found = [(name, ranges.getByName(name)) for name in ranges.ElementNames]
    return [
        [name, bounds(item.DataArea), bool(item.TotalsRow)]
        for name, item in found
        if item.DataArea.Sheet == number
    ]


def names(place):
    """Return the defined names of the document and what they refer to."""
    found = place.document.NamedRanges
    return [[name, found.getByName(name).Content] for name in found.ElementNames]


def add_name(place, name, content):
    """Define a name, instead of one that is there; return what it refers to."""
    import uno

    found = place.document.NamedRanges
    if found.hasByName(name):
        found.removeByName(name)
    found.addNewByName(name, content, uno.createUnoStruct("com.sun.star.table.CellAddress"), 0)
    return found.getByName(name).Content


# Looks


def put(place, owner, name, value):
    """Set a property of the cells, or of their rows or columns."""
    setattr(getattr(place.cells, owner) if owner else place.cells, name, of_office(value))


def put_all(place, values):
    """Set properties of the cells."""
    place.cells.setPropertyValues(tuple(values), tuple(map(of_office, values.values())))


def of_office(value):
    """Return a value as the office takes it; an enumeration comes as its type and its word."""
    if isinstance(value, list):
        import uno

        return uno.Enum(*value)
    return value


def put_in_end(place, start, name, value):
    """Set a property of the text of a cell from a letter on."""
    cursor = place.cells.getCellByPosition(0, 0).createTextCursor()
    cursor.gotoStart(False)
    cursor.goRight(start, False)
    cursor.gotoEnd(True)
    setattr(cursor, name, value)


def number_format(place, text):
    """Set a number format, as Excel writes it."""
    import uno

    locale = uno.createUnoStruct("com.sun.star.lang.Locale")
    locale.Language, locale.Country = "en", "US"
    formats = place.document.NumberFormats
    key = formats.queryKey(text, locale, False)
    place.cells.NumberFormat = key if key >= 0 else formats.addNew(text, locale)


def draw(place, sides, color, style, width):
    """Draw lines round the cells and between them."""
    import uno

    line = uno.createUnoStruct("com.sun.star.table.BorderLine2")
    line.Color, line.LineStyle = color, style
    line.OuterLineWidth = line.LineWidth = width
    lines = uno.createUnoStruct("com.sun.star.table.TableBorder2")
    for side in sides:
        setattr(lines, side, line)
        setattr(lines, f"Is{side}Valid", True)
    place.cells.TableBorder2 = lines


def add_rule(place, operator, formula, colors, weight):
    """Put a rule before those that the cells have."""
    import uno

    styles = place.document.StyleFamilies.getByName("CellStyles")
    name = f"rule {styles.Count}"
    style = place.document.createInstance("com.sun.star.style.CellStyle")
    styles.insertByName(name, style)
    style.CharColor, style.CellBackColor = colors
    style.CharWeight = weight
    entries = place.cells.ConditionalFormat
    old = [entries.getByIndex(number) for number in range(entries.Count)]
    rules = [(uno.Enum("com.sun.star.sheet.ConditionOperator", operator), formula, name)]
    rules += [(rule.Operator, rule.Formula1, rule.StyleName) for rule in old]
    entries.clear()
    for rule in rules:
        entries.addNew(named(zip(("Operator", "Formula1", "StyleName"), rule, strict=True)))
    place.cells.ConditionalFormat = entries


def named(pairs):
    import uno

    made = [uno.createUnoStruct("com.sun.star.beans.PropertyValue") for _ in range(3)]
    for one, (name, value) in zip(made, pairs, strict=True):
        one.Name, one.Value = name, value
    return tuple(made)


def rules(place):
    """Return where the rules of a sheet are and their formulas."""
    return [
        [found.Range.RangeAddressesAsString, found.getByIndex(number).Formula1]
        for found in place.sheet.ConditionalFormats.ConditionalFormats
        for number in range(found.Count)
    ]


def looks(place):
    """Return the areas of cells that look alike, how they look, and the lines of each cell."""
    found, formats = [], place.document.NumberFormats
    for cells, areas in alike(place):
        look = dict(zip(LOOKS, cells.getPropertyValues(LOOKS), strict=True))
        lines = [look.pop(f"{side}Border2") for side in SIDES]
        look["NumberFormat"] = formats.getByKey(look["NumberFormat"]).FormatString
        look = {name: getattr(value, "value", value) for name, value in look.items()}
        drawn = [[line.LineStyle, line.Color] if line.LineWidth else None for line in lines]
        found += [[area, look, drawn] for area in areas]
    return found


def widths(place):
    """Return the widths of the columns, in hundredths of a millimeter."""
    columns = place.cells.Columns
    return [columns.getByIndex(number).Width for number in range(columns.Count)]


def heights(place):
    """Return the height of each row, in hundredths of a millimeter, and whether it is set."""
    rows = [place.cells.Rows.getByIndex(number) for number in range(place.cells.Rows.Count)]
    return [[row.Height, not row.OptimalHeight] for row in rows]


def merged(place, areas):
    """Return which of some areas of a sheet are merged."""
    found = [(left, top, right, bottom) for top, left, bottom, right in areas]
    return [place.sheet.getCellRangeByPosition(*one).IsMerged for one in found]


def merge(place):
    place.cells.merge(True)


def merged_area(place):
    cursor = place.sheet.createCursorByRange(place.cells.getCellRangeByPosition(0, 0, 0, 0))
    cursor.collapseToMergedArea()
    return bounds(cursor.RangeAddress)


ALL_BUT_DRAWINGS = 1023 - 128
"""What to clear of cells, in the office's own numbers: charts stay, as in Excel."""


def clear(place):
    place.cells.merge(False)
    place.cells.clearContents(ALL_BUT_DRAWINGS)


def used(place):
    """Return the last row and column of the used area."""
    cursor = place.sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    return cursor.RangeAddress.EndRow, cursor.RangeAddress.EndColumn


def alike(place):
    """Yield the cells of each look, wherever they are, and their areas."""
    looks = place.cells.UniqueCellFormatRanges
    for number in range(looks.Count):
        cells = looks.getByIndex(number)
        yield cells, [bounds(area) for area in cells.RangeAddresses]


def visible(place):
    """Return the areas whose rows and columns are shown."""
    return [bounds(area) for area in place.cells.queryVisibleCells().RangeAddresses]


def activate(place):
    place.document.CurrentController.setActiveSheet(place.sheet)


def select(place):
    place.document.CurrentController.select(place.cells)


def print_areas(place):
    return [bounds(area) for area in place.sheet.getPrintAreas()]


def set_print_area(place):
    """Print these cells of the sheet; all, if none are named."""
    areas = (place.cells.RangeAddress,) if place.area else ()
    place.sheet.setPrintAreas(areas)


def corner(place):
    """Return where the cells begin on the sheet, in hundredths of a millimeter."""
    return place.cells.Position.X, place.cells.Position.Y


def bounds(area):
    return area.StartRow, area.StartColumn, area.EndRow, area.EndColumn


ORDERS = {
    order.__name__: order
    for order in (
        values, formulas, array_formula, set_array_formula, write, tables, names, add_name, put,
        put_all, put_in_end, number_format, draw, add_rule, rules, looks, widths, heights, merged,
        merge, merged_area, clear, used, visible, activate, select, print_areas, set_print_area,
        corner,
    )
}  # fmt: skip
