"""Charts of the LibreOffice engine: see ``lo_engine``."""

from tests.lo_engine import struct
from tests.lo_engine_ranges import POINT, pack

KINDS = {
    "line": "com.sun.star.chart.LineDiagram",
    "line_markers": "com.sun.star.chart.LineDiagram",
    "bar_clustered": "com.sun.star.chart.BarDiagram",
    "column_clustered": "com.sun.star.chart.BarDiagram",
}


class Charts:
    def __init__(self, parent):
        self.parent = parent
        self.x = parent.x.Charts

    api = property(lambda self: self.x)

    def __len__(self):
        return self.x.Count

    def __iter__(self):
        return (Chart(self, name) for name in self.x.ElementNames)

    def add(self, left, top, width, height, chart_type, source, plot_by, name, anchor, style):
        sizes = (round(number * POINT) for number in (left, top, width, height))
        place = struct(
            "awt.Rectangle", **dict(zip(("X", "Y", "Width", "Height"), sizes, strict=True))
        )
        name = f"{self.parent.x.Name} {self.x.Count + 1}"  # the office wants it unique in the book
        self.x.addNewByName(name, place, (source.x.RangeAddress,), False, False)
        chart = Chart(self, name)
        document = chart.document
        document.setDiagram(document.createInstance(KINDS[chart_type]))
        document.Diagram.Vertical = chart_type == "bar_clustered"
        return chart


class Chart:
    def __init__(self, charts, name):
        self.charts, self.name = charts, name
        self.document = charts.x.getByName(name).EmbeddedObject

    def delete(self):
        self.charts.x.removeByName(self.name)

    def _system(self):
        return self.document.FirstDiagram.CoordinateSystems[0]

    def set_x_axis_values(self, source):
        """Put the categories in; the office takes them through the axis of the chart."""
        provider = self.document.DataProvider
        sheet = source.sheet.name.replace("'", "''")
        where = f"$'{sheet}'.{source.address}"
        office = source.sheet.book.app.office
        sequence = office.make("com.sun.star.chart2.data.LabeledDataSequence")
        sequence.setValues(provider.createDataSequenceByRangeRepresentation(where))
        axis = self._system().getAxisByDimension(0, 0)
        scale = axis.ScaleData
        scale.Categories = sequence
        axis.ScaleData = scale

    @property
    def title(self):
        return self.document.Title.String if self.document.HasMainTitle else None

    @title.setter
    def title(self, value):
        self.document.HasMainTitle = value is not None
        if value is not None:
            self.document.Title.String = value

    legend = property(lambda self: Legend(self.document))
    category_axis = property(lambda self: Axis(self.document.Diagram, "X"))
    value_axis = property(lambda self: Axis(self.document.Diagram, "Y"))

    @property
    def categories(self):
        scale = self._system().getAxisByDimension(0, 0).ScaleData
        return scale.Categories.Values.SourceRangeRepresentation

    @property
    def series(self):
        return SeriesCollection(self._system().ChartTypes[0].DataSeries)


class Legend:
    def __init__(self, document):
        self.document = document

    visible = property(
        lambda self: self.document.HasLegend,
        lambda self, value: setattr(self.document, "HasLegend", value),
    )


class Axis:
    def __init__(self, diagram, letter):
        self.diagram, self.letter = diagram, letter
        self.number_format = ""

    @property
    def title(self):
        shown = getattr(self.diagram, f"Has{self.letter}AxisTitle")
        return getattr(self.diagram, f"{self.letter}AxisTitle").String if shown else None

    def set(self, *, title, reverse_order, **others):
        if title is None or isinstance(title, str):
            setattr(self.diagram, f"Has{self.letter}AxisTitle", title is not None)
        if isinstance(title, str):
            getattr(self.diagram, f"{self.letter}AxisTitle").String = title
        axis = getattr(self.diagram, f"{self.letter}Axis")
        if isinstance(reverse_order, bool):
            axis.ReverseDirection = reverse_order


class SeriesCollection:
    def __init__(self, series):
        self.series = series

    def __len__(self):
        return len(self.series)

    def __iter__(self):
        return (Series(item) for item in self.series)


class Series:
    def __init__(self, x):
        self.x = x

    values = property(lambda self: self.x.DataSequences[0].Values.SourceRangeRepresentation)
    color = property(lambda self: self.x.Color)

    def set(self, *, name, line_color, fill_color, **others):
        color = line_color if isinstance(line_color, tuple) else fill_color
        self.x.Color = pack(color)
