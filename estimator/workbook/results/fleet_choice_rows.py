"""What the Equipment sheet says of the choice of classes and crews over the job."""

from estimator.optimize import sentences
from estimator.workbook.results.builder import SheetBuilder
from estimator.workbook.sheet.spec import Cell


def add_fleet_choice(sheet: SheetBuilder, width: int) -> None:
    """Append the section, or nothing where each run's class was chosen by itself."""
    found = sheet.context.estimate.fleet_outcome
    if found is None:
        return
    sheet.add()
    sheet.section("Fleet optimization (least total cost)", width)
    first, *others = sentences(found, sheet.context.estimate.job.cover)
    sheet.add(Cell(first, "key"))
    for line in others:
        sheet.add(Cell(line, "plain"))
