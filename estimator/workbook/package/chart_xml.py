"""Renders charts and the drawing that places them on a sheet."""

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence

from estimator.workbook.package.shape_xml import line_drawing
from estimator.workbook.sheet import look
from estimator.workbook.sheet.cell_text import area_of, escape, serial_date
from estimator.workbook.sheet.spec import ChartSpec, DrawingSpec, Mark, SheetSpec, Side, Value

_DRAWING = "http://schemas.openxmlformats.org/drawingml/2006"
_CHART_NS, _SHEET_DRAWING_NS = f"{_DRAWING}/chart", f"{_DRAWING}/spreadsheetDrawing"
_REL_NS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_DECLARATION = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_CATEGORY_AXIS, _VALUE_AXIS = 111111111, 222222222
SIZE = round(look.SMALL * 100)
"""Size of all type in a chart, in hundredths of a point."""
_REFERENCE = re.compile(r"(?:'((?:[^']|'')+)'|([^'!]+))!(.+)")
_DAY_STEPS, _MONTH_STEPS = (1, 2, 7, 14, 28), (1, 2, 3, 6, 12)
_MOST_NUMBERS = 6
_GAP = {"bar": 50, "column": 60}
_LINES = {"line", "points"}
_NO_MARKS = '<c:symbol val="none"/>'
_SIDES: Mapping[Side, str] = {"right": "r", "left": "l", "above": "t", "below": "b"}


def render_drawing(charts: Sequence[ChartSpec], drawings: Sequence[DrawingSpec] = ()) -> bytes:
    """Return the drawing of a sheet; chart number n has the relationship id ``rIdn``."""
    frames = "".join(_frame(chart, number) for number, chart in enumerate(charts, 1))
    first = len(charts) + 2
    frames += "".join(line_drawing(one, first + 1000 * n) for n, one in enumerate(drawings))
    return (
        f'{_DECLARATION}<xdr:wsDr xmlns:xdr="{_SHEET_DRAWING_NS}" xmlns:a="{_DRAWING}/main">'
        f"{frames}</xdr:wsDr>"
    ).encode()


def _frame(chart: ChartSpec, number: int) -> str:
    first, last = (_corner(reference) for reference in chart.anchor)
    description = f' descr="{escape(chart.title)}"' if chart.title else ""
    return (
        '<xdr:twoCellAnchor editAs="oneCell">'
        f"<xdr:from>{first}</xdr:from><xdr:to>{last}</xdr:to>"
        '<xdr:graphicFrame macro=""><xdr:nvGraphicFramePr>'
        f'<xdr:cNvPr id="{number + 1}" name="Chart {number}"{description}/>'
        "<xdr:cNvGraphicFramePr/></xdr:nvGraphicFramePr><xdr:xfrm>"
        '<a:off x="0" y="0"/><a:ext cx="0" cy="0"/></xdr:xfrm>'
        f'<a:graphic><a:graphicData uri="{_CHART_NS}"><c:chart xmlns:c="{_CHART_NS}" '
        f'xmlns:r="{_REL_NS}" r:id="rId{number}"/></a:graphicData></a:graphic>'
        "</xdr:graphicFrame><xdr:clientData/></xdr:twoCellAnchor>"
    )


def _corner(reference: str) -> str:
    cell = area_of(reference)
    return (
        f"<xdr:col>{cell.left - 1}</xdr:col><xdr:colOff>0</xdr:colOff>"
        f"<xdr:row>{cell.top - 1}</xdr:row><xdr:rowOff>0</xdr:rowOff>"
    )


class ChartWriter:
    """Writes charts over the sheets that are being written, with the values they show.

    Parameters
    ----------
    specs : sequence of SheetSpec
        Sheets whose values the charts may refer to; of other sheets only the range is written,
        and the spreadsheet program fills in the values.
    dates_1904 : bool
        Whether the workbook counts its dates from 1904.
    """

    def __init__(self, specs: Sequence[SheetSpec], *, dates_1904: bool = False) -> None:
        self._sheets: Mapping[str, SheetSpec] = {spec.name.casefold(): spec for spec in specs}
        self.dates_1904 = dates_1904

    def render(self, chart: ChartSpec, axis_dates: str = look.DATE_TIGHT) -> bytes:
        """Return one chart as the bytes of its part; dates on its axis in their format."""
        categories = self._values(chart.categories)
        days = [value for value in categories if isinstance(value, dt.date)]
        step = _date_step(chart, days) if days and len(days) == len(categories) else ""
        legend = (
            f'<c:legend><c:legendPos val="b"/>{_left_out(chart)}<c:overlay val="0"/></c:legend>'
        )
        parts = [
            f'{_DECLARATION}<c:chartSpace xmlns:c="{_CHART_NS}" xmlns:a="{_DRAWING}/main" '
            f'xmlns:r="{_REL_NS}"><c:date1904 val="{int(self.dates_1904)}"/>'
            '<c:roundedCorners val="0"/><c:chart>',
            '<c:autoTitleDeleted val="1"/><c:plotArea><c:layout/>',
            self._plot(chart, categories),
            _category_axis(chart, step, axis_dates, len(categories), self._ends(chart)),
            _value_axis(chart),
            "</c:plotArea>",
            legend if chart.shows_legend else "",
            '<c:plotVisOnly val="1"/><c:dispBlanksAs val="gap"/></c:chart>',
            "<c:spPr><a:ln><a:noFill/></a:ln></c:spPr>",
            _text_properties(SIZE),
            "</c:chartSpace>",
        ]
        return "".join(parts).encode()

    def _ends(self, chart: ChartSpec) -> str:
        """Return where a date axis ends and begins, if the chart says so."""
        if chart.days is None:
            return ""
        least, most = map(self._shown, chart.days)
        return f'<c:max val="{most}"/><c:min val="{least}"/>'

    def _plot(self, chart: ChartSpec, categories: Sequence[Value]) -> str:
        shown = f"<c:cat>{self._range(chart.categories, categories)}</c:cat>"
        end = '<c:smooth val="0"/>' if chart.kind in _LINES else ""
        series = "".join(
            self._series(number, name, reference, f"{_look(chart, name, color)}{shown}", end)
            for number, (name, reference, color) in enumerate(chart.series, len(chart.areas))
        )
        axes = f'<c:axId val="{_CATEGORY_AXIS}"/><c:axId val="{_VALUE_AXIS}"/>'
        if chart.kind in _LINES:
            areas = "".join(
                self._series(
                    number, name, reference, f"<c:spPr>{_area_fill(color)}</c:spPr>{shown}"
                )
                for number, (name, reference, color) in enumerate(chart.areas)
            )
            behind = (
                '<c:areaChart><c:grouping val="stacked"/><c:varyColors val="0"/>'
                f"{areas}{axes}</c:areaChart>"
                if areas
                else ""
            )
            return (
                f'{behind}<c:lineChart><c:grouping val="standard"/><c:varyColors val="0"/>'
                f'{series}<c:marker val="1"/>{axes}</c:lineChart>'
            )
        overlap = '<c:overlap val="100"/>' if chart.kind == "bar" else ""
        return (
            f'<c:barChart><c:barDir val="{"bar" if chart.kind == "bar" else "col"}"/>'
            f'<c:grouping val="clustered"/><c:varyColors val="0"/>{series}'
            f'<c:gapWidth val="{_GAP[chart.kind]}"/>{overlap}{axes}</c:barChart>'
        )

    def _series(self, number: int, name: str, reference: str, look: str, end: str = "") -> str:
        """Return one series; its look comes with the categories after it."""
        return (
            f'<c:ser><c:idx val="{number}"/><c:order val="{number}"/>'
            f"<c:tx><c:v>{escape(name)}</c:v></c:tx>{look}"
            f"<c:val>{self._range(reference, self._values(reference), numeric=True)}</c:val>"
            f"{end}</c:ser>"
        )

    def _values(self, reference: str) -> Sequence[Value]:
        match = _REFERENCE.fullmatch(reference)
        if match is None:
            raise ValueError(f"range must be like 'Plan'!$A$1:$A$9, got {reference!r}")
        quoted, plain, address = match.groups()
        spec = self._sheets.get((plain or quoted.replace("''", "'")).casefold())
        if spec is None:
            return ()
        area = area_of(address)
        return [
            _value_at(spec, row, column)
            for row in range(area.top, area.bottom + 1)
            for column in range(area.left, area.right + 1)
        ]

    def _range(self, reference: str, values: Sequence[Value], *, numeric: bool = False) -> str:
        numbers = numeric or any(isinstance(v, dt.date | int | float) for v in values)
        kind = "num" if numbers else "str"
        cache = ""
        if values:
            points = "".join(
                f'<c:pt idx="{i}"><c:v>{self._shown(value)}</c:v></c:pt>'
                for i, value in enumerate(values)
                if value is not None and (not numbers or not isinstance(value, str))
            )
            code = "<c:formatCode>General</c:formatCode>" if numbers else ""
            count = f'<c:ptCount val="{len(values)}"/>'
            cache = f"<c:{kind}Cache>{code}{count}{points}</c:{kind}Cache>"
        return f"<c:{kind}Ref><c:f>{escape(reference)}</c:f>{cache}</c:{kind}Ref>"

    def _shown(self, value: Value) -> str:
        if isinstance(value, dt.date):
            return repr(serial_date(value, dates_1904=self.dates_1904))
        return escape(value) if isinstance(value, str) else repr(value)


def _value_at(spec: SheetSpec, row: int, column: int) -> Value:
    cells = spec.rows[row - 1].cells if row <= len(spec.rows) else ()
    cell = cells[column - 1] if column <= len(cells) else None
    return None if cell is None else cell.value


def _left_out(chart: ChartSpec) -> str:
    """Return what keeps areas that are not drawn out of the legend."""
    return "".join(
        f'<c:legendEntry><c:idx val="{number}"/><c:delete val="1"/></c:legendEntry>'
        for number, (_, _, color) in enumerate(chart.areas)
        if not color
    )


def _area_fill(color: str) -> str:
    if not color:
        return "<a:noFill/><a:ln><a:noFill/></a:ln>"
    return f'<a:solidFill><a:srgbClr val="{color}"/></a:solidFill><a:ln><a:noFill/></a:ln>'


def _look(chart: ChartSpec, name: str, color: str) -> str:
    fill = f'<a:solidFill><a:srgbClr val="{color}"/></a:solidFill>'
    if chart.kind == "points":
        return _look_of_points(chart.mark(name), fill)
    if chart.kind == "line":
        dash = chart.dashes.get(name)
        dashed = f'<a:prstDash val="{dash}"/>' if dash else ""
        return (
            f'<c:spPr><a:ln w="25400" cap="rnd">{fill}{dashed}<a:round/></a:ln></c:spPr>'
            f"<c:marker>{_marks(fill) if name in chart.marked else _NO_MARKS}</c:marker>"
        )
    return f'<c:spPr>{fill}</c:spPr><c:invertIfNegative val="0"/>'


def _marks(fill: str, size: int = 5, symbol: str = "circle") -> str:
    return f'<c:symbol val="{symbol}"/><c:size val="{size}"/><c:spPr>{fill}</c:spPr>'


def _look_of_points(mark: Mark, fill: str) -> str:
    line = f'{fill}<a:prstDash val="{mark.dash}"/>' if mark.dash else "<a:noFill/>"
    marks = _NO_MARKS if mark.symbol == "none" else _marks(fill, mark.size, mark.symbol)
    return (
        f'<c:spPr><a:ln w="{19050 if mark.dash else 28575}">{line}</a:ln></c:spPr>'
        f"<c:marker>{marks}</c:marker>{_named(mark)}"
    )


def _named(mark: Mark) -> str:
    """Return what sets the name of a series beside its points."""
    if mark.named is None:
        return ""
    return (
        f'<c:dLbls>{_text_properties(SIZE)}<c:dLblPos val="{_SIDES[mark.named]}"/>'
        '<c:showLegendKey val="0"/><c:showVal val="0"/><c:showCatName val="0"/>'
        '<c:showSerName val="1"/><c:showPercent val="0"/><c:showBubbleSize val="0"/></c:dLbls>'
    )


def _date_step(chart: ChartSpec, days: Sequence[dt.date]) -> str:
    """Return how far apart the labels of a date axis stand: days, weeks or months."""
    number, unit = chart.date_step or _roomy_step(days, chart.most_dates)
    return (
        f'<c:baseTimeUnit val="days"/><c:majorUnit val="{number}"/><c:majorTimeUnit val="{unit}"/>'
    )


def _roomy_step(days: Sequence[dt.date], most: int) -> tuple[int, str]:
    """Return the step with which no more labels than this many stand on a date axis."""
    least = (max(days) - min(days)).days / most
    number = next((n for n in _DAY_STEPS if n >= least), 0)
    if number:
        return number, "days"
    return next((n for n in _MONTH_STEPS if n * 30 >= least), _MONTH_STEPS[-1]), "months"


def _category_axis(chart: ChartSpec, date_step: str, axis_dates: str, count: int, ends: str) -> str:
    kind = "dateAx" if date_step else "catAx"
    lying = chart.kind == "bar"
    code = chart.categories_format or (axis_dates if date_step else "General")
    linked = not date_step and not chart.categories_format
    tail = date_step or f'{_label_step(chart, count)}<c:noMultiLvlLbl val="0"/>'
    align = "" if date_step else '<c:lblAlgn val="ctr"/>'
    return (
        f'<c:{kind}><c:axId val="{_CATEGORY_AXIS}"/><c:scaling>'
        f'<c:orientation val="{"maxMin" if lying else "minMax"}"/>{ends}</c:scaling>'
        f'<c:delete val="0"/><c:axPos val="{"l" if lying else "b"}"/>{_title(chart.x_title)}'
        f'<c:numFmt formatCode="{escape(code)}" sourceLinked="{int(linked)}"/>'
        '<c:majorTickMark val="out"/><c:minorTickMark val="none"/><c:tickLblPos val="low"/>'
        f"{_line(look.MUTED)}{_upright(chart)}"
        f'<c:crossAx val="{_VALUE_AXIS}"/><c:crosses val="autoZero"/>'
        f'<c:auto val="1"/>{align}<c:lblOffset val="100"/>{tail}</c:{kind}>'
    )


def _label_step(chart: ChartSpec, count: int) -> str:
    """Return how many numbers as categories have one label, so that labels stand upright."""
    if not chart.categories_format:
        return ""
    step = math.ceil(count / _MOST_NUMBERS) or 1
    return f'<c:tickLblSkip val="{step}"/><c:tickMarkSkip val="{step}"/>'


def _value_axis(chart: ChartSpec) -> str:
    lying = chart.kind == "bar"
    between = "midCat" if chart.kind in _LINES else "between"
    most = "" if chart.values_to is None else f'<c:max val="{chart.values_to:.15g}"/>'
    least = "" if chart.values_from is None else f'<c:min val="{chart.values_from:.15g}"/>'
    return (
        f'<c:valAx><c:axId val="{_VALUE_AXIS}"/><c:scaling><c:orientation val="minMax"/>'
        f'{most}{least}</c:scaling><c:delete val="0"/><c:axPos val="{"b" if lying else "l"}"/>'
        f"<c:majorGridlines>{_line(look.HAIR)}</c:majorGridlines>{_title(chart.y_title)}"
        f'<c:numFmt formatCode="{escape(chart.values_format)}" sourceLinked="0"/>'
        '<c:majorTickMark val="none"/><c:minorTickMark val="none"/><c:tickLblPos val="nextTo"/>'
        f'<c:spPr><a:ln><a:noFill/></a:ln></c:spPr><c:crossAx val="{_CATEGORY_AXIS}"/>'
        f'<c:crosses val="{"max" if lying else "autoZero"}"/>'
        f'<c:crossBetween val="{between}"/>{_quarters(chart)}</c:valAx>'
    )


def _quarters(chart: ChartSpec) -> str:
    """Return the step of labels of an axis that has an end: four of them."""
    step = chart.value_step
    return "" if step is None else f'<c:majorUnit val="{step:.15g}"/>'


def _line(color: str) -> str:
    fill = f'<a:solidFill><a:srgbClr val="{color}"/></a:solidFill>'
    return f'<c:spPr><a:ln w="9525">{fill}</a:ln></c:spPr>'


def _title(text: str) -> str:
    if not text:
        return ""
    type_of = f'sz="{SIZE}" b="0"'
    return (
        "<c:title><c:tx><c:rich><a:bodyPr/><a:p>"
        f"<a:pPr><a:defRPr {type_of}/></a:pPr>"
        f"<a:r><a:rPr {type_of}/><a:t>{escape(text)}</a:t></a:r>"
        '</a:p></c:rich></c:tx><c:overlay val="0"/></c:title>'
    )


def _upright(chart: ChartSpec) -> str:
    """Return what keeps the labels of numbers as categories from being turned."""
    return _text_properties(SIZE, ' rot="0" vert="horz"') if chart.categories_format else ""


def _text_properties(size: int, turned: str = "") -> str:
    fill = f'<a:solidFill><a:srgbClr val="{look.MUTED}"/></a:solidFill>'
    face = f'<a:latin typeface="{look.FONT}"/>'
    return (
        f'<c:txPr><a:bodyPr{turned}/><a:p><a:pPr><a:defRPr sz="{size}">{fill}{face}</a:defRPr>'
        '</a:pPr><a:endParaRPr lang="en-US"/></a:p></c:txPr>'
    )
