"""What can be done after award, as it is chosen on a sheet or typed behind a command.

Words only: the sheet After award, the press and the commands are made from one list, so that each
can do what the others can. What an action makes of a workbook is in ``excel/award_work.py``.
"""

import datetime as dt
from collections.abc import Mapping
from typing import Literal

from estimator.data_class import dataclass
from estimator.errors import InputError, Problem

Part = Literal["date", "detail", "files"]
PARTS: tuple[Part, ...] = ("date", "detail", "files")
SEPARATOR = ";"
"""Between several details or files in one cell."""


@dataclass(frozen=True)
class Action:
    """One thing that is done after award.

    Parameters
    ----------
    name : str
        What is chosen on the sheet.
    command, flag : str
        The command that does it, and its option that no other action has.
    does : str
        Result.
    needed, may : mapping of str to str
        What it needs beside its name, and what it takes: ``date``, ``detail`` or ``files``, each
        with what it means.
    options : mapping of str to str
        Name of the command's option for each of these.
    """

    name: str
    command: str
    flag: str
    does: str
    needed: Mapping[Part, str]
    may: Mapping[Part, str]
    options: Mapping[Part, str]

    @property
    def typed(self) -> str:
        """How the command is typed."""
        return f"{self.command} --{self.flag}" if self.flag else self.command

    def meaning(self, part: Part) -> str:
        """Return what a part is here, and whether it may be left out; empty if it is not used."""
        if part in self.may:
            return f"{self.may[part]} (or blank)"
        return self.needed.get(part, "")


def _action(
    name: str,
    typed: str,
    does: str,
    needed: Mapping[Part, str] | None = None,
    may: Mapping[Part, str] | None = None,
    **options: str,
) -> Action:
    command, _, flag = typed.partition(" --")
    named: dict[Part, str] = {part: options.get(part, "") for part in PARTS}
    return Action(name, command, flag, does, needed or {}, may or {}, named)


LAST_DAY: Mapping[Part, str] = {"date": "last day counted"}
ACTIONS: tuple[Action, ...] = (
    _action(
        "Status", "status", "Status and Gantt with actuals, up to a day", LAST_DAY, date="date"
    ),
    _action(
        "Status with options", "status --options", "The same, and what would finish earlier",
        LAST_DAY, date="date",
    ),
    _action("Baseline", "baseline", "Freezes the awarded job, once"),
    _action(
        "New baseline", "baseline --rebase", "Replaces it; the old one is kept beside it",
        {"detail": "why: change 3"}, detail="rebase",
    ),
    _action("Field cards", "cards", "One for each pipe and machine, to print and cut"),
    _action("Start site records", "log --start", "Adds Joint log, Daily record and the like"),
    _action(
        "Update site records", "log --update", "Rows for new joints, new limits where not made"
    ),
    _action("Log summary", "log", "Tallies, open rejects, holds, coupons due"),
    _action(
        "Log pages", "log --page", "The log of some runs as pages to print",
        {"detail": "runs: R01; R02"}, detail="page",
    ),
    _action(
        "Join data logger", "log --logger", "Fills in blank cells of the log from CSV files",
        {"files": "CSV files"}, files="logger",
    ),
    _action("Start change orders", "claim --start", "Adds Change orders and the claim terms"),
    _action("Progress claim", "claim", "The next claim, up to a day", LAST_DAY, date="date"),
    _action(
        "Price a change", "change", "Its price and days, into its row",
        {"detail": "No. of the change", "files": "copy with the change"},
        {"date": "status date"}, date="date", detail="number", files="changed",
    ),
    _action(
        "Rental request", "request", "One page a kind of equipment; the quotes compared",
        {}, {"date": "order day"}, date="order",
    ),
    _action(
        "Take a quote", "request --take", "Its rates into the class of its line",
        {"detail": "its row on Quotes: 1"}, detail="take",
    ),
    _action("Start past jobs", "past --start", "Adds the table in which past jobs are typed"),
    _action(
        "Past job times", "past", "What past jobs suggest beside the present times",
        {}, {"files": "closed jobs"}, files="closed",
    ),
    _action(
        "Take past times", "past --take", "The suggested times into Task times",
        {"detail": "size band: C"}, {"files": "closed jobs"}, detail="take", files="closed",
    ),
    _action(
        "Look-ahead", "lookahead", "An estimate, with three weeks by day",
        {}, {"date": "day of first week"}, date="first",
    ),
)  # fmt: skip
BY_NAME: Mapping[str, Action] = {one.name.casefold(): one for one in ACTIONS}
COMMANDS: tuple[str, ...] = tuple(dict.fromkeys(one.command for one in ACTIONS))


def of_command(command: str, date: dt.date | None = None) -> "Asked":
    """Return the plain action of a command, up to a day.

    Raises
    ------
    InputError
        If there is none, or it needs something else.
    """
    name = next((one.name for one in ACTIONS if one.typed == command), command)
    return asked(name, date, (), (), {part: command for part in ("do", *PARTS)})


@dataclass(frozen=True)
class Asked:
    """An action with all that was chosen for it; what it does not use is left out."""

    action: Action
    date: dt.date | None = None
    details: tuple[str, ...] = ()
    files: tuple[str, ...] = ()


def asked(
    name: str,
    date: dt.date | None,
    details: tuple[str, ...],
    files: tuple[str, ...],
    where: Mapping[str, str],
) -> Asked:
    """Return what is asked for.

    Parameters
    ----------
    where : mapping of str to str
        Where ``do``, ``date``, ``detail`` and ``files`` were entered.

    Raises
    ------
    InputError
        If there is no such action, or with everything that it needs and has not.
    """
    action = BY_NAME.get(name.strip().casefold())
    if action is None:
        names = ", ".join(one.name for one in ACTIONS)
        raise InputError([Problem(where["do"], f"{name!r} is none of: {names}")])
    given: Mapping[Part, object] = {"date": date, "detail": details, "files": files}
    missing = [
        Problem(where[part], f"{action.name} needs a {part}: {meaning}")
        for part, meaning in action.needed.items()
        if not given[part]
    ]
    if missing:
        raise InputError(missing)
    used = {part for part in PARTS if part in action.needed or part in action.may}
    return Asked(
        action,
        date if "date" in used else None,
        details if "detail" in used else (),
        files if "files" in used else (),
    )
