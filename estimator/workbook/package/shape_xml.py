"""Renders a line drawing as a group of shapes, so that it prints sharp and needs no picture."""

from collections.abc import Sequence

from estimator.workbook.sheet.cell_text import area_of, escape
from estimator.workbook.sheet.look import INK
from estimator.workbook.sheet.spec import DrawingSpec, Label, Stroke

EMU_PER_INCH = 914_400
EMU_PER_UNIT = 1000
LINE_WIDTH_EMU = 9525
LABEL_HEIGHT = 40.0
"""Height of a label's box in the units of the drawing."""
_TAGS = {"M": "moveTo", "L": "lnTo", "C": "cubicBezTo"}


def line_drawing(drawing: DrawingSpec, first_id: int) -> str:
    """Return the anchored group of a drawing; its shapes are numbered from ``first_id`` on."""
    wide, high = (round(inches * EMU_PER_INCH) for inches in drawing.size_in)
    canvas = f'cx="{_emu(drawing.canvas[0])}" cy="{_emu(drawing.canvas[1])}"'
    cell = area_of(drawing.anchor)
    shapes: list[Stroke | Label] = [*drawing.strokes, *drawing.labels]
    made = "".join(_shape(drawing, one, first_id + n) for n, one in enumerate(shapes, 1))
    return (
        f"<xdr:oneCellAnchor><xdr:from><xdr:col>{cell.left - 1}</xdr:col><xdr:colOff>0</xdr:colOff>"
        f"<xdr:row>{cell.top - 1}</xdr:row><xdr:rowOff>0</xdr:rowOff></xdr:from>"
        f'<xdr:ext cx="{wide}" cy="{high}"/><xdr:grpSp><xdr:nvGrpSpPr><xdr:cNvPr id="{first_id}" '
        f'name="Drawing {first_id}" descr="{escape(drawing.description)}"/><xdr:cNvGrpSpPr/>'
        f'</xdr:nvGrpSpPr><xdr:grpSpPr><a:xfrm><a:off x="0" y="0"/><a:ext cx="{wide}" '
        f'cy="{high}"/><a:chOff x="0" y="0"/><a:chExt {canvas}/></a:xfrm></xdr:grpSpPr>{made}'
        "</xdr:grpSp><xdr:clientData/></xdr:oneCellAnchor>"
    )


def _emu(units: float) -> int:
    return round(units * EMU_PER_UNIT)


def _shape(drawing: DrawingSpec, one: Stroke | Label, number: int) -> str:
    body = _label(one) if isinstance(one, Label) else _stroke(drawing, one)
    return (
        f'<xdr:sp macro="" textlink=""><xdr:nvSpPr><xdr:cNvPr id="{number}" '
        f'name="Shape {number}"/><xdr:cNvSpPr/></xdr:nvSpPr>{body}</xdr:sp>'
    )


def _frame(x: float, y: float, wide: float, high: float) -> str:
    return (
        f'<a:xfrm><a:off x="{_emu(x)}" y="{_emu(y)}"/><a:ext cx="{_emu(wide)}" '
        f'cy="{_emu(high)}"/></a:xfrm>'
    )


def _stroke(drawing: DrawingSpec, stroke: Stroke) -> str:
    """Return a free shape over its own box, so that the programs select it where it is."""
    points = [point for _, group in stroke.steps() for point in group]
    left, top = min(x for x, _ in points), min(y for _, y in points)
    wide, high = max(x for x, _ in points) - left, max(y for _, y in points) - top
    made = "".join(_command(name, group, left, top) for name, group in stroke.steps())
    color = f'<a:solidFill><a:srgbClr val="{stroke.fill}"/></a:solidFill>'
    fill = color if stroke.fill else "<a:noFill/>"
    return (
        f"<xdr:spPr>{_frame(left, top, wide, high)}<a:custGeom><a:avLst/><a:gdLst/><a:ahLst/>"
        '<a:cxnLst/><a:rect l="0" t="0" r="r" b="b"/><a:pathLst>'
        f'<a:path w="{_emu(wide)}" h="{_emu(high)}">{made}</a:path></a:pathLst></a:custGeom>{fill}'
        f'<a:ln w="{LINE_WIDTH_EMU}"><a:solidFill><a:srgbClr val="{INK}"/></a:solidFill></a:ln>'
        "</xdr:spPr>"
    )


def _command(name: str, points: Sequence[tuple[float, float]], left: float, top: float) -> str:
    if name == "Z":
        return "<a:close/>"
    made = "".join(f'<a:pt x="{_emu(x - left)}" y="{_emu(y - top)}"/>' for x, y in points)
    return f"<a:{_TAGS[name]}>{made}</a:{_TAGS[name]}>"


def _label(label: Label) -> str:
    wide = LABEL_HEIGHT * 6
    frame = _frame(label.x - wide / 2, label.y - LABEL_HEIGHT / 2, wide, LABEL_HEIGHT)
    return (
        f'<xdr:spPr>{frame}<a:prstGeom prst="rect"><a:avLst/></a:prstGeom><a:noFill/>'
        '<a:ln><a:noFill/></a:ln></xdr:spPr><xdr:txBody><a:bodyPr wrap="none" lIns="0" tIns="0" '
        'rIns="0" bIns="0" anchor="ctr"/><a:lstStyle/><a:p><a:pPr algn="ctr"/><a:r>'
        f'<a:rPr lang="en-US" sz="800" b="1"><a:solidFill><a:srgbClr val="{INK}"/></a:solidFill>'
        f'<a:latin typeface="Arial"/></a:rPr><a:t>{escape(label.text)}</a:t></a:r></a:p>'
        "</xdr:txBody>"
    )
