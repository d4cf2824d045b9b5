"""Why a class of equipment was chosen or not."""

from estimator.models.base import Model


class Reason(Model):
    """Why something was chosen or not, in plain words.

    ``text`` may hold ``{need}`` and ``{limit}``: numbers in SI of the physical ``kind``, which
    the writer shows in the user's units.
    """

    text: str
    kind: str = ""
    need: float = 0.0
    limit: float = 0.0


class Rejection(Reason):
    """A class that cannot do the work, or is dearer, and why."""

    class_id: str
