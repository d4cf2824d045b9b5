"""Figures that carry their source."""

from estimator.data_class import dataclass
from estimator.display import sentence
from estimator.models.joint import Source
from estimator.standards import tables


@dataclass(frozen=True)
class Figure:
    """A number with the source it comes from."""

    value: float
    source: Source


def cite(figure: str, row: tables.Row, detail: str = "") -> Source:
    """Return the source of a figure, from the row of a table that gave it.

    Parameters
    ----------
    figure : str
        Name of the field that holds the figure.
    row : Row
        Row with source, clause, confidence and note.
    detail : str
        What else the user should know of how the figure was made.

    Returns
    -------
    Source
    """
    text = f"{tables.source_name(row)}: {row['clause']}"
    remarks = [str(part) for part in (row["note"], detail) if part]
    return Source(
        figure=figure,
        text=". ".join([text, *map(sentence, remarks)]),
        confidence=str(row["confidence"]),
    )
