"""What a column needs, and the widths with which rows take the fewest lines on a page."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from math import ceil, inf

from estimator.data_class import dataclass
from estimator.workbook.sheet.look import pixels_of

Texts = tuple[tuple[int, int], ...]
"""Texts of a row that stand in their own column: the column from 0 on, and how broad each is."""

Beside = Mapping[tuple[int, float], int]
"""How many rows have a text so broad in a column, and so many lines by their other columns."""

MOST_ROWS = 400
"""Rows whose texts are weighed; a longer table is like its beginning."""
GAP = 4.0
"""Pixels that a text keeps free where it can, beside the text after it."""
BROKEN, SURE = 1.06, 0.92
"""Breadth of a text in several lines against one: lines end between words; and the share of a
column in which it has to have its lines, so that it has them for sure."""
LEAST_LETTERS = 10.0
APART = 8
"""Pixels that a column of numbers keeps free beside the broadest."""
BLANK, EDGES = 2.5, 5.0
"""Pixels of a blank after a word, and of both edges of a cell."""
BROADER = 1.06
"""How much broader LibreOffice draws a column, against its letters."""
HEADS_APART, NEARLY = 14, 5
"""Pixels that a header keeps free beside its longest line, where another column can give them, and
by which a word may be drawn narrower than it is measured, so that it stays on the line before."""
STEP = 4
"""Pixels to which the breadths of texts are taken as one."""
NEXT = 8
"""Smaller breadths of a column that are weighed at a time."""


@dataclass()
class Need:
    """What one column holds: pixels of its numbers and heads, and of its texts on one line."""

    fixed: float = 0.0
    text: float = 0.0
    longest: int = 0
    seen: bool = False
    heads: set[tuple[float, ...]] = field(default_factory=set)
    """Pixels of the letters of each word of each header, its blank included."""

    def take_head(self, words: Sequence[float]) -> None:
        """Take in the letters of the words of a header."""
        self.heads.add(tuple(words))

    def head_room(self, width: float) -> float:
        """Return the width in which headers, in lines as at a width, keep off those beside them.

        LibreOffice draws a column broader than its letters, so that more stands on one line.
        """
        lines = (_longest_line(words, width * BROADER + NEARLY) for words in self.heads)
        return (max(lines) + HEADS_APART) / BROADER if self.heads else 0.0

    def take_text(self, text: str, pixels: float) -> None:
        """Take in a text."""
        self.seen = True
        self.longest = max(self.longest, len(text))
        self.text = max(self.text, pixels)

    def asks_for(self, text: str) -> bool:
        """Return whether a text is to be measured because it may be the broadest."""
        return not self.longest or len(text) * 2 >= self.longest

    def take_fixed(self, pixels: float) -> None:
        """Take in what must stand on one line."""
        self.seen = True
        self.fixed = max(self.fixed, pixels)


def _longest_line(words: Sequence[float], width: float) -> float:
    """Return the pixels of the longest line of words, with the edges of its cell."""
    lines = [0.0]
    for word in words:
        if lines[-1] and lines[-1] + word - BLANK + EDGES <= width:
            lines[-1] += word
        else:
            lines.append(word)
    return max(lines) - BLANK + EDGES


def with_heads_apart(
    widths: Sequence[int], needs: Sequence[Need], rows: Mapping[Texts, int], box: float
) -> list[int]:
    """Return widths on the same page in which headers keep off each other where some can give.

    The one with the least room is served first: by what the page has left, then by a column that
    has more than its numbers, its own header and the lines of its texts need, then by a header
    that takes one line more.
    """
    found = list(widths)
    room = max(int(box) - sum(found), 0)
    beside = _Shared(rows, found).beside
    kept = [
        _kept(width, need, beside.get(at, {}))
        for at, (width, need) in enumerate(zip(widths, needs, strict=True))
    ]
    while True:
        wanted = [need.head_room(width) for width, need in zip(found, needs, strict=True)]
        short, at = max((wanted[n] - width, n) for n, width in enumerate(found))
        if short <= 0:
            return found
        spare, giver = max((width - max(kept[n], wanted[n]), n) for n, width in enumerate(found))
        if room:
            room -= 1
            found[at] += 1
        elif spare >= 1:
            found[giver] -= 1
            found[at] += 1
        else:
            freed, giver = max(
                (width - _broken(width, needs[n], kept[n]), n) for n, width in enumerate(found)
            )
            if not freed:
                return found
            found[giver] -= freed
            room += freed


def _broken(width: int, need: Need, kept: float) -> int:
    """Return the next smaller width in which a header in more lines keeps off those beside it."""
    narrower = range(width - 1, ceil(kept) - 1, -1) if need.heads else ()
    return next((one for one in narrower if need.head_room(one) <= one), width)


def _kept(width: int, need: Need, beside: Beside) -> float:
    """Return the pixels that a column keeps for its numbers and the lines of its texts."""
    if not need.seen:
        return width
    if need.text + GAP <= width:
        return max(need.fixed + APART, need.text + GAP)
    least, lines = max(need.fixed + APART, pixels_of(LEAST_LETTERS)), _lines(beside, width)
    while width > least and beside and _lines(beside, SURE * (width - 1)) <= lines:
        width -= 1
    return width


def in_steps(pixels: float) -> int:
    """Return a breadth as it is weighed.

    >>> in_steps(97.2)
    104
    """
    return STEP * ceil((pixels + GAP) / STEP)


def with_few_lines(
    found: Sequence[int], needs: Sequence[Need], rows: Mapping[Texts, int], box: float
) -> list[int]:
    """Return widths in pixels on the same page, shared out so that rows take few lines.

    Texts begin on one line, columns of numbers with what they need. The column gives way where
    that adds the fewest lines for its pixels, until all fit; what is left goes where it was.
    """
    wrapped = {at for row in rows for at, _ in row if needs[at].text > found[at]}
    if not wrapped:
        return list(found)
    pairs = zip(found, needs, strict=True)
    least = [_least(width, need) for width, need in pairs]
    widths = list(least)
    for row in rows:
        for at, broad in row:
            widths[at] = max(widths[at], broad)
    breadths, shared = _breadths(rows, least), _Shared(rows, widths)
    beside = shared.beside
    while sum(widths) > box:
        steps = [step for at in breadths for step in _steps(at, beside[at], breadths[at], widths)]
        if not steps:
            return list(found)
        _, _, at, less = min(steps)
        shared.change(at, less)
    return _with_the_rest(shared, found, breadths, int(box) - sum(widths))


def _with_the_rest(
    shared: "_Shared", wished: Sequence[int], breadths: Mapping[int, Sequence[int]], room: int
) -> list[int]:
    """Return widths that take up what is left of the page: first where that saves most lines."""
    widths, beside = shared.widths, shared.beside
    while True:
        steps = [
            (saved / (more - widths[at]), at, more)
            for at in breadths
            for more in breadths[at]
            if widths[at] < more <= widths[at] + room
            for saved in [_lines(beside[at], widths[at]) - _lines(beside[at], more)]
            if saved > 0
        ]
        if not steps:
            break
        _, at, more = max(steps)
        room -= more - widths[at]
        shared.change(at, more)
    for at, wish in enumerate(wished):
        more = min(max(wish - widths[at], 0), room)
        widths[at] += more
        room -= more
    return widths


def _least(width: int, need: Need) -> int:
    """Return the pixels that a column keeps at least."""
    if not need.seen:
        return width
    text = min(need.text, pixels_of(LEAST_LETTERS)) if need.text else need.fixed + APART
    return min(width, ceil(max(need.fixed, text)))


def _breadths(rows: Mapping[Texts, int], least: Sequence[int]) -> Mapping[int, Sequence[int]]:
    """Return, broadest first, the breadths of each column with which a text takes fewer lines."""
    found: dict[int, set[int]] = {}
    for row in rows:
        for at, broad in row:
            bare = broad - int(GAP)
            parts = (broad, bare, *(ceil(broad * BROKEN / n) for n in range(2, 7)))
            found.setdefault(at, {least[at]}).update(one for one in parts if one > least[at])
    return {at: sorted(some, reverse=True) for at, some in found.items()}


class _Shared:
    """Columns that share a page, and of each its texts with the lines of their rows without them.

    ``widths`` is changed where it is.
    """

    def __init__(self, rows: Mapping[Texts, int], widths: list[int]) -> None:
        self.widths = widths
        self.beside: dict[int, Counter[tuple[int, float]]] = defaultdict(Counter)
        self._rows: dict[int, list[tuple[int, Texts, int]]] = defaultdict(list)
        for row, many in rows.items():
            for at, broad in row:
                self._rows[at].append((broad, row, many))
            self._count(row, many)

    def change(self, at: int, width: int) -> None:
        """Give a column another width: only rows that take other lines then are counted anew."""
        old = self.widths[at]
        other = [
            (row, many)
            for broad, row, many in self._rows[at]
            if _lines_of(broad, old) != _lines_of(broad, width)
        ]
        for row, many in other:
            self._count(row, -many)
        self.widths[at] = width
        for row, many in other:
            self._count(row, many)

    def _count(self, row: Texts, many: int) -> None:
        lines = [_lines_of(broad, self.widths[at]) for at, broad in row]
        *_, second, most = 1, *sorted((1, *lines))
        for (at, broad), own in zip(row, lines, strict=True):
            found, key = self.beside[at], (broad, second if own == most else most)
            found[key] += many
            if not found[key]:
                del found[key]


def _steps(
    at: int, beside: Beside, breadths: Sequence[int], widths: Sequence[int]
) -> Iterator[tuple[float, int, int, int]]:
    """Yield smaller widths of a column: the lines that one adds for its pixels, and these."""
    width = widths[at]
    now = _lines(beside, width)
    for less in [one for one in breadths if one < width][:NEXT]:
        yield (_lines(beside, less) - now) / (width - less), less - width, at, less


def _lines(beside: Beside, width: float) -> float:
    """Return about how many lines rows take with a width of the column that they have a text in."""
    total = 0.0
    for (broad, others), many in beside.items():
        own = 1 if broad - GAP <= width else _lines_of(broad, width)
        total += many * (own if own > others else others)
    return total


def _lines_of(broad: int, width: float) -> float:
    if broad - GAP <= width:
        return 1
    return ceil(broad * BROKEN / width) if width else inf


def counted_rows(rows: Iterator[Texts]) -> Mapping[Texts, int]:
    """Return how many of the first rows have the same texts."""
    found: Counter[Texts] = Counter()
    for row in rows:
        found[row] += bool(row)
        if found.total() >= MOST_ROWS:
            break
    return +found
