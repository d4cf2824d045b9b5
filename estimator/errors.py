"""Every error the estimator raises on purpose: one tree, one wording.

A message says what was wrong, what was got and what is allowed. Places in a workbook
(``Sheet!Cell``) are added by the reader, which alone knows them.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

from estimator.data_class import dataclass


def nearest(word: str, known: Iterable[str], most: int = 3, likeness: float = 0.6) -> list[str]:
    """Return the known words that a wrong one may have meant, the likest first.

    >>> nearest("estimat", ["explain", "estimate"])
    ['estimate']
    """
    from difflib import get_close_matches  # seldom needed, and slow to import

    return get_close_matches(word, list(known), most, likeness)


class EstimatorError(Exception):
    """Base of all errors raised on purpose; its text is meant for the user."""


class OutsideStandardError(EstimatorError):
    """A value lies outside the range that a standard or table covers.

    Parameters
    ----------
    name : str
        The quantity, with its unit, in trade words.
    got : float
        The value received.
    low, high : float or None
        The closed range allowed; None where that side is open.
    source : str
        Key or name of the table that sets the range.
    remedy : str
        What to do about it, a sentence without its period.
    """

    def __init__(
        self,
        name: str,
        got: float,
        low: float | None,
        high: float | None,
        source: str,
        remedy: str = "",
    ) -> None:
        self.name, self.got, self.low, self.high, self.source = name, got, low, high, source
        if low is not None and high is not None:
            allowed = f"{low:g} to {high:g}"
        elif low is not None:
            allowed = f"{low:g} or more"
        else:
            allowed = f"{high:g} or less"
        message = f"{name} is {got:g}, outside the allowed range ({allowed}; {source})"
        super().__init__(f"{message}. {remedy}" if remedy else message)


class UnknownNameError(EstimatorError):
    """A name (size, method, material) is not one that a table lists."""

    def __init__(self, what: str, got: str, allowed: Iterable[str]) -> None:
        self.what, self.got, self.allowed = what, got, tuple(allowed)
        super().__init__(f"{what} {got!r} is not recognized. Use one of: {', '.join(allowed)}")


@dataclass(frozen=True)
class Problem:
    """One thing wrong (or doubtful) in the user's input, with its place.

    ``where`` is ``Sheet!Cell``, a sheet name or a run id; ``message`` says what, got, allowed.
    ``serious`` marks a warning that makes the result unfit for use until it is dealt with.
    ``alike`` is the end of a message that others of its kind have too: a list says it once.
    """

    where: str
    message: str
    serious: bool = False
    alike: str = ""

    @property
    def own(self) -> str:
        """The message without its end that others have too."""
        return self.message.removesuffix(self.alike).rstrip(". ")

    def __str__(self) -> str:
        return f"{self.where}: {self.message}"


class InputError(EstimatorError):
    """The input cannot be estimated; carries every problem found, not just the first."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))


class WorkbookError(EstimatorError):
    """The file itself cannot be read, edited safely or saved."""


@contextmanager
def naming_file(path: str) -> Iterator[None]:
    """Put the name of a file before what is wrong with it as a whole."""
    try:
        yield
    except WorkbookError as error:
        raise WorkbookError(f"{path}: {error}") from error
