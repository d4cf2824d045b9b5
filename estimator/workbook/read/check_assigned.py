"""Checks of the crews and machine classes that the schedule gives to runs."""

from collections.abc import Iterator

from estimator.workbook.read.findings import Finding
from estimator.workbook.read.parse_rows import Inputs


def machine_classes(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a class for a run that is not among the machines."""
    known = [row.values.get("class_id") for row in inputs.rows("machines")]
    for row in inputs.rows("schedule"):
        asked = row.values.get("machine")
        if asked is not None and asked not in known:
            names = ", ".join(str(name) for name in known if name is not None)
            message = f"Machine: {asked!r} is not on the Machines sheet. Use one of: {names}"
            yield Finding(row.cell("machine"), message)


def crew_numbers(inputs: Inputs) -> Iterator[Finding]:
    """Refuse a crew number above the crews of the job."""
    crews = inputs.named("job").values.get("crews")
    for row in inputs.rows("schedule"):
        crew = row.values.get("crew")
        if crew is not None and crews is not None and crew > crews:
            message = (
                f"Crew: {crew} is outside the allowed range (1 to {crews}, the crews on "
                "the Job sheet)"
            )
            yield Finding(row.cell("crew"), message)
