"""Why a class of equipment was chosen or not."""

from estimator.data_class import dataclass


@dataclass(frozen=True, kw_only=True)
class Reason:
    """Why something was chosen or not, in plain words.

    ``text`` may hold ``{need}`` and ``{limit}``: numbers in SI of the physical ``kind``, which
    the writer shows in the user's units.
    """

    text: str
    kind: str = ""
    need: float = 0.0
    limit: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Rejection(Reason):
    """A class that cannot do the work, or is dearer, and why."""

    class_id: str
