"""Rules of crew dates and holds: of crews and runs that there are."""

from collections.abc import Iterator

from estimator.input_errors.entries import Broken, Sheets, broken


def crews_on_site(sheets: Sheets) -> Iterator[Broken]:
    """Refuse a crew number above the crews of the job, for a run or for dates on site."""
    crews = next((job.get("crews") for job in sheets.rows("job")), None)
    for table in ("schedule", "crew_dates"):
        for entry in sheets.rows(table):
            crew = entry.get("crew")
            if crew is not None and crews is not None and crew > crews:
                counted = f"{crews} crew{'s' * (crews != 1)}"
                message = f"{crew} is above the {counted} on the Job sheet"
                yield broken(table, entry, "crew", message)


def held_runs(sheets: Sheets) -> Iterator[Broken]:
    """Refuse holds of runs that are not in the schedule."""
    known = {entry.get("run_id") for entry in sheets.rows("schedule")}
    for entry in [] if None in known else sheets.rows("holds"):
        run = entry.get("run")
        if run is not None and run not in known:
            message = f"{run}: no such run in the Pipe schedule. Leave it blank for all runs"
            yield broken("holds", entry, "run", message)


RULES = (crews_on_site, held_runs)
