"""Our own drawings of a bead in section: what is good, and what is to be cut out."""

from collections.abc import Iterator

from estimator.workbook.sheet import look
from estimator.workbook.sheet.spec import DrawingSpec, Label, Stroke

CELL, HEIGHT = 208.0, 220.0
"""Width of one bead and height of the drawing, in its own units."""
TOP, BOTTOM, STEP = 92.0, 148.0, 20.0
"""Faces of the pipe wall, and by how much the offset ends miss each other."""
SHAPES = {
    "good": (58, 40),
    "cold": (26, 22),
    "hard": (62, 20),
    "offset": (50, 36),
    "dirty": (56, 40),
}
"""Half width and rise of each bead."""
NAMES = {
    "good": "Good", "cold": "Cold", "hard": "Too hard", "offset": "Offset", "dirty": "Dirty",
}  # fmt: skip
SPECKS = (
    (-30, -74, 6), (-14, -86, 4), (20, -72, 7), (36, -80, 4), (-24, 16, 5), (26, 18, 5),
    (0, -44, 6), (0, -28, 5), (0, -13, 6),
)  # fmt: skip
"""Dirt, from the middle of the joint and the lower face up: across, down, radius."""
ROUND = 0.5523
"""Length of the handles by which four curves make a circle, in radii."""


def bead_drawing(anchor: str, width_in: float) -> DrawingSpec:
    """Return the five beads side by side, each under its name."""
    wide = CELL * len(NAMES)
    strokes = [stroke for n, kind in enumerate(NAMES) for stroke in _bead(kind, n * CELL)]
    labels = [Label(name, n * CELL + CELL / 2, 24.0) for n, name in enumerate(NAMES.values())]
    return DrawingSpec(
        anchor=anchor,
        description="Bead sections: good, cold, too hard, offset, dirty",
        size_in=(width_in, width_in * HEIGHT / wide),
        canvas=(wide, HEIGHT),
        strokes=strokes,
        labels=labels,
    )


def _bead(kind: str, left: float) -> Iterator[Stroke]:
    """Yield one joint: beads on both faces, the two pipe walls over their feet, and its fault."""
    step = STEP if kind == "offset" else 0.0
    middle = left + CELL / 2
    for face, side in ((TOP, -1.0), (BOTTOM, 1.0)):
        yield from _rolls(kind, middle, (face, face + step), side)
    yield _wall(left + 8, middle, TOP)
    yield _wall(middle, left + CELL - 8, TOP + step)
    if kind in ("cold", "hard"):
        for face, inward in ((TOP, 1.0), (BOTTOM, -1.0)):
            yield _groove(middle, face, inward)
    if kind == "dirty":
        for across, down, radius in SPECKS:
            yield _dot(middle + across, BOTTOM + down, radius)


def _rolls(kind: str, middle: float, faces: tuple[float, float], side: float) -> Iterator[Stroke]:
    width, rise = SHAPES[kind]
    left, right = faces
    inside = -side * 14
    a, b = middle - width, middle + width
    if kind == "hard":
        for low, high, face in ((a, middle - 6, left), (middle + 6, b, right)):
            top = face + side * rise
            yield Stroke(
                f"M {low} {face + inside} L {low} {face} "
                f"C {low} {top} {low} {top} {low + 12} {top} "
                f"L {high - 12} {top} C {high} {top} {high} {top} {high} {face} "
                f"L {high} {face + inside} Z",
                look.BEAD,
            )
        return
    peak = side * rise * 1.3
    notch = (left + right) / 2 + side * rise * (0.1 if kind == "cold" else 0.4)
    yield Stroke(
        f"M {a} {left + inside} L {a} {left} "
        f"C {a} {left + peak} {middle - 4} {left + peak} {middle} {notch} "
        f"C {middle + 4} {right + peak} {b} {right + peak} {b} {right} L {b} {right + inside} Z",
        look.BEAD,
    )


def _wall(left: float, right: float, top: float) -> Stroke:
    bottom = top + BOTTOM - TOP
    return Stroke(
        f"M {left} {top} L {right} {top} L {right} {bottom} L {left} {bottom} Z", look.PIPE_WALL
    )


def _groove(middle: float, face: float, inward: float) -> Stroke:
    """Return a groove that reaches below the face of the pipe."""
    out, tip = face - 3 * inward, face + 16 * inward
    return Stroke(f"M {middle - 9} {out} L {middle} {tip} L {middle + 9} {out} Z", look.WHITE)


def _dot(x: float, y: float, r: float) -> Stroke:
    h = r * ROUND
    return Stroke(
        f"M {x - r} {y} C {x - r} {y - h} {x - h} {y - r} {x} {y - r} "
        f"C {x + h} {y - r} {x + r} {y - h} {x + r} {y} "
        f"C {x + r} {y + h} {x + h} {y + r} {x} {y + r} "
        f"C {x - h} {y + r} {x - r} {y + h} {x - r} {y} Z",
        look.INK,
    )
