"""Draws a line drawing on a sheet of Excel for Windows, shape by shape."""

from collections.abc import Sequence
from typing import Any

import xlwings as xw

from estimator.workbook.sheet.look import INK
from estimator.workbook.sheet.spec import DrawingSpec, Label, Stroke

POINTS_PER_INCH = 72
CORNER, LINE, CURVE, AUTO = 1, 0, 1, 0
"""Excel's codes of a node, of its two kinds of segment, and of a node without handles."""
NO, HORIZONTAL, CENTERED, LINE_PT = 0, 1, -4108, 0.75
LABEL_PT, LABEL_BOX_PT = 8, (48.0, 11.0)


def draw(sheet: xw.Sheet, drawings: Sequence[DrawingSpec]) -> None:
    """Draw over the cells at the anchors, in place of what showed the same before."""
    for description in {drawing.description for drawing in drawings}:
        _erase(sheet, description)
    for drawing in drawings:
        pen = _Pen(sheet, drawing)
        for stroke in drawing.strokes:
            pen.stroke(stroke)
        for label in drawing.labels:
            pen.label(label)


def _erase(sheet: xw.Sheet, description: str) -> None:
    """Take away every shape that shows this, as the command or a press has drawn it."""
    shapes = sheet.api.Shapes
    for number in range(shapes.Count, 0, -1):
        shape = shapes.Item(number)
        if shape.AlternativeText == description:
            shape.Delete()


class _Pen:
    def __init__(self, sheet: xw.Sheet, drawing: DrawingSpec) -> None:
        cell = sheet.range(drawing.anchor)
        self.shapes, self.description = sheet.api.Shapes, drawing.description
        self.left, self.top = float(cell.left), float(cell.top)
        self.scale = drawing.size_in[0] * POINTS_PER_INCH / drawing.canvas[0]

    def at(self, point: tuple[float, float]) -> tuple[float, float]:
        """Return a point of the drawing as points from the top left corner of the sheet."""
        return self.left + point[0] * self.scale, self.top + point[1] * self.scale

    def stroke(self, stroke: Stroke) -> None:
        """Draw one closed shape."""
        (_, (start,)), *steps = stroke.steps()
        builder = self.shapes.BuildFreeform(CORNER, *self.at(start))
        for name, points in steps:
            placed = [number for point in points or (start,) for number in self.at(point)]
            if name == "C":
                builder.AddNodes(CURVE, CORNER, *placed)
            else:
                builder.AddNodes(LINE, AUTO, *placed)
        shape = builder.ConvertToShape()
        if stroke.fill:
            shape.Fill.ForeColor.RGB = _rgb(stroke.fill)
        else:
            shape.Fill.Visible = NO
        shape.Line.ForeColor.RGB = _rgb(INK)
        shape.Line.Weight = LINE_PT
        shape.AlternativeText = self.description

    def label(self, label: Label) -> None:
        """Write a text, centered on its point."""
        x, y = self.at((label.x, label.y))
        wide, high = LABEL_BOX_PT
        box = self.shapes.AddTextbox(HORIZONTAL, x - wide / 2, y - high / 2, wide, high)
        box.Fill.Visible = box.Line.Visible = NO
        frame = box.TextFrame
        frame.MarginLeft = frame.MarginRight = frame.MarginTop = frame.MarginBottom = 0.0
        frame.HorizontalAlignment = frame.VerticalAlignment = CENTERED
        text: Any = frame.Characters()
        text.Text = label.text
        text.Font.Name, text.Font.Size, text.Font.Bold = "Arial", float(LABEL_PT), True
        text.Font.Color = _rgb(INK)
        box.AlternativeText = self.description


def _rgb(color: str) -> int:
    """Return a color as Excel counts it, blue first."""
    red, green, blue = (int(color[at : at + 2], 16) for at in (0, 2, 4))
    return red + (green << 8) + (blue << 16)
