"""What each kind of rented equipment is called, and which input table lists its classes."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from estimator.models.equipment import RentalItem
from estimator.models.job import Job
from estimator.models.rental import RentalSpan

FLEET_TABLES: Mapping[str, str] = MappingProxyType(
    {"machine": "machines", "generator": "generators", "lifting": "lifting"}
)
KIND_WORDS: Mapping[str, str] = MappingProxyType(
    {"machine": "Fusion machine", "generator": "Generator", "lifting": "Lifting equipment"}
)


def rental_items(job: Job) -> dict[tuple[str, str], RentalItem]:
    """Return every class that can be rented, by kind and name, in the order of the sheets."""
    return {
        (kind, item.class_id): item
        for kind, table in FLEET_TABLES.items()
        for item in getattr(job, table)
    }


def rental_item(job: Job, span: RentalSpan) -> RentalItem:
    """Return the class of a rental span."""
    listed: Sequence[RentalItem] = getattr(job, FLEET_TABLES[span.kind])
    return next(item for item in listed if item.class_id == span.class_id)


def spans_by_class(
    job: Job, spans: tuple[RentalSpan, ...]
) -> dict[tuple[str, str], list[RentalSpan]]:
    """Return the rental spans of each class that is on rent, in the order of the sheets."""
    found: dict[tuple[str, str], list[RentalSpan]] = {key: [] for key in rental_items(job)}
    for span in spans:
        found[span.kind, span.class_id].append(span)
    return {key: held for key, held in found.items() if held}
