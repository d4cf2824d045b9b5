"""How one run comes to its price, step by step."""

import datetime as dt

from estimator.data_class import dataclass
from estimator.models.joint import Source


@dataclass(frozen=True)
class Step:
    """One figure of the chain.

    ``sum`` is the arithmetic on the numbers shown, empty for a figure that is given or looked up;
    ``how`` says what it means in words, ``where`` the input's cell, ``sources`` whence it is.
    """

    name: str
    value: str | float | dt.date
    unit: str = ""
    sum: str = ""
    how: str = ""
    where: str = ""
    sources: tuple[Source, ...] = ()


@dataclass(frozen=True)
class Part:
    """Steps that belong together."""

    title: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Explanation:
    """The chain from the schedule row to the price of one run."""

    run_id: str
    title: str
    parts: tuple[Part, ...]

    def step(self, part: str, name: str) -> Step:
        """Return one step by the title of its part and its name."""
        found = next(p for p in self.parts if p.title == part)
        return next(step for step in found.steps if step.name == name)
