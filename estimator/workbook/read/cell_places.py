"""Formula references of input cells, made only when they are asked for."""

from collections.abc import Iterator, Mapping

Key = tuple[str, str, str]


class CellPlaces(Mapping[Key, str]):
    """References by (table, row key, field key), without a text in memory for every cell.

    ``starts`` maps a table and its field keys to the first cell of the column, such as
    ``'Crew'!$H$6``; ``rows`` maps a table and its row keys to rows of the sheet. ``named`` maps
    the keys of named cells to their references.
    """

    def __init__(
        self,
        starts: Mapping[str, Mapping[str, str]],
        rows: Mapping[str, Mapping[str, int]],
        named: Mapping[Key, str],
    ) -> None:
        self.starts, self.rows, self.named = starts, rows, named

    def __getitem__(self, place: Key) -> str:
        if place in self.named:
            return self.named[place]
        table, row, key = place
        if table not in self.starts:
            raise KeyError(place)
        start, number = self.starts[table][key], self.rows[table][row]
        return f"{start.rpartition('$')[0]}${number}"

    def __iter__(self) -> Iterator[Key]:
        yield from self.named
        for table, starts in self.starts.items():
            for row in self.rows[table]:
                yield from ((table, row, key) for key in starts)

    def __len__(self) -> int:
        in_tables = (len(starts) * len(self.rows[table]) for table, starts in self.starts.items())
        return len(self.named) + sum(in_tables)
