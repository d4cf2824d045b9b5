"""The live formulas of the site records: durations, limits by air, verdict, shift account."""

import re
from collections.abc import Mapping

from estimator.input_errors.site_records import COUNTED
from estimator.inputs.dictionary import fields
from estimator.models.kinds import CONNECTIONS
from estimator.progress.joint_log import GAUGE_TOLERANCE

TINY_DAY = "0.000001"
"""A tenth of a second, as a part of a day: less is no difference."""
TINY_DEGREE = "0.000001"
HALF_DAY = "0.5"
PLAIN_HEADER = re.compile(r"[A-Za-z0-9 ]+")
"""Headers that Excel takes in one pair of brackets; all others need two."""


JOB_MINUTES = ("startup_min", "breaks_min", "wrapup_min", "machine_move_min")
"""Inputs of the Job sheet that the shift account takes up."""


def site_formulas(table: str, job_minutes: Mapping[str, str]) -> Mapping[str, str]:
    """Return the formula of each column of a table that is worked out, by its key.

    ``job_minutes`` are the formulas that give ``JOB_MINUTES`` in minutes.
    """
    if table == "joint_log":
        return _joint_log()
    return _daily_record(job_minutes) if table == "daily_record" else {}


class _Cells:
    """Names the cells of a row, and the columns, of one table by key."""

    def __init__(self, table: str, excel_name: str) -> None:
        self.name = excel_name
        self._headers = {column.key: column.header for column in fields(table)}

    def __getitem__(self, key: str) -> str:
        return f"{self.name}[[#This Row],[{self._headers[key]}]]"

    def column(self, key: str) -> str:
        header = self._headers[key]
        plain = PLAIN_HEADER.fullmatch(header)
        return f"{self.name}[{header}]" if plain else f"{self.name}[[{header}]]"


def _joint_log() -> Mapping[str, str]:
    row = _Cells("joint_log", "Joint_log")
    return {
        "air_band": _air_band(row),
        "cool_min": _least_cooling(row),
        "gauge_required": (
            f'IF(OR({row["base_gauge_mpa"]}="",{row["drag_mpa"]}=""),"",'
            f"{row['base_gauge_mpa']}+{row['drag_mpa']})"
        ),
        "soak": _between(row["heat_start_min"], row["heater_out_min"]),
        "open_close": _between(row["heater_out_min"], row["closed_min"]),
        "cool": _between(row["closed_min"], row["cool_end_min"]),
        "verdict": _verdict(row),
    }


def _between(start: str, end: str) -> str:
    return f'IF(OR({start}="",{end}=""),"",MOD(ROUND({end}-{start},8),1))'


def _air_band(row: _Cells) -> str:
    """Return the formula of the row of Cooling by air that holds: the last one reached."""
    bands = _Cells("cooling_by_air", "Cooling_by_air")
    pipe, air, names = row["pipe"], row["ambient_c"], bands.column("pipe")
    first, all_of = f"MATCH({pipe},{names},0)", f"COUNTIF({names},{pipe})"
    reached = f'COUNTIFS({names},{pipe},{bands.column("from_c")},"<="&({air}+{TINY_DEGREE}))'
    return (
        f'IF({all_of}=0,"",IF({air}="",IF({all_of}=1,{first},""),'
        f'IF({reached}=0,"",{first}+{reached}-1)))'
    )


def _least_cooling(row: _Cells) -> str:
    bands = _Cells("cooling_by_air", "Cooling_by_air")
    band, air = row["air_band"], row["ambient_c"]
    low, high, start, end = (
        f"INDEX({bands.column(key)},{band})" for key in ("low_s", "high_s", "from_c", "to_c")
    )
    inside = f"{low}+({high}-{low})*({air}-{start})/({end}-{start})"
    return f'IF({band}="","",IF({air}="",{low},IF({air}>{end}+{TINY_DEGREE},"",{inside})))'


def _verdict(row: _Cells) -> str:
    times = [row[key] for key in ("soak", "open_close", "cool")]
    backwards = ",".join(f"N({time})>{HALF_DAY}" for time in times)
    made = ",".join(f'{row[key]}<>""' for key in ("date", "closed_min", "visual"))
    broken, missing = _broken(row), _missing(row)
    return (
        f'IF(NOT(OR({made})),"not made",IF(OR({backwards}),"clock runs backwards",'
        f'IF({row["visual"]}="reject","reject: "&{row["cause"]},'
        f'IF({broken}<>"","out of limits:"&{broken},'
        f'IF({missing}<>"","incomplete:"&{missing},'
        f'IF({row["visual"]}="hold","hold","accepted"))))))'
    )


def _broken(row: _Cells) -> str:
    """Return the text of the limits that a row breaks; a blank limit is never broken."""

    def below(value: str, limit: str, word: str, tolerance: str = TINY_DAY) -> str:
        return f'IF(AND(ISNUMBER({value}),N({value})<N({limit})-{tolerance})," {word}","")'

    def above(value: str, limit: str, word: str) -> str:
        return (
            f"IF(AND(ISNUMBER({value}),ISNUMBER({limit}),N({value})>N({limit})+{TINY_DAY}),"
            f'" {word}","")'
        )

    required = row["gauge_required"]
    parts = [
        below(row["soak"], row["soak_min_s"], "soak"),
        above(row["open_close"], row["open_close_max_s"], "open/close"),
        below(row["cool"], row["cool_min"], "cooling"),
        below(row["bead_1_mm"], row["bead_min_mm"], "bead"),
        below(row["bead_2_mm"], row["bead_min_mm"], "bead"),
        above(row["misalignment_mm"], row["misalignment_max_mm"], "misalignment"),
        below(row["gauge_set_mpa"], required, "gauge", f"{GAUGE_TOLERANCE:g}*N({required})"),
    ]
    return "(" + "&".join(parts) + ")"


def _missing(row: _Cells) -> str:
    typed = {
        "date": "date", "machine_no": "machine", "operator": "operator",
        "heat_start_min": "start", "heater_out_min": "out", "closed_min": "closed",
        "cool_end_min": "end", "visual": "visual", "soak_min_s": "limits",
    }  # fmt: skip
    parts = [f'IF({row[key]}=""," {word}","")' for key, word in typed.items()]
    names = _Cells("cooling_by_air", "Cooling_by_air").column("pipe")
    parts.append(f'IF(AND({row["cool_min"]}="",COUNTIF({names},{row["pipe"]})>0)," air","")')
    return "(" + "&".join(parts) + ")"


def _daily_record(job: Mapping[str, str]) -> Mapping[str, str]:
    row = _Cells("daily_record", "Daily_record")
    same = _same_shift(row, row)
    lost = _Cells("lost_time", "Lost_time")
    minutes = f"SUMPRODUCT({_same_shift(lost, row)},{lost.column('minutes')})"
    fixed = f"({job['startup_min']}+{job['breaks_min']}+{job['wrapup_min']})"
    not_used = "-".join(row[key] for key in ("paid", "fixed", "moved", "joining"))
    parts = {
        "paid": f"{row['paid_hours']}/{row['people']}*60",
        "fixed": f"MIN({row['paid']},{fixed}/SUMPRODUCT({same}))",
        "moved": f"N({row['moves']})*{job['machine_move_min']}",
        "lost": f"MAX(0,MIN({minutes}/SUMPRODUCT({same}),{not_used}))",
        "joining": _joining(row),
        "unexplained": f"{not_used}-{row['lost']}",
    }
    needed = ",".join(f'{row[key]}=""' for key in ("date", "crew", "run_id"))
    return {
        key: f'IF(OR({needed},N({row["people"]})=0),"",{formula})' for key, formula in parts.items()
    }


def _same_shift(table: _Cells, row: _Cells) -> str:
    """Return the array of rows of a table that are of the date, crew and shift of a row."""
    night = f'(({table.column("shift")}="night")=({row["shift"]}="night"))'
    dates = f"({table.column('date')}={row['date']})"
    crews = f"({table.column('crew')}={row['crew']})"
    return f"{dates}*{crews}*{night}"


def _joining(row: _Cells) -> str:
    """Return joints by planned minutes; a blank count is counted from the joint log."""
    log, plan = _Cells("joint_log", "Joint_log"), _Cells("planned_runs", "Planned_runs")
    run = f"MATCH({row['run_id']},{plan.column('run_id')},0)"
    terms = []
    for key, kind in COUNTED.items():
        logged = (
            f"COUNTIFS({log.column('date')},{row['date']},{log.column('crew')},{row['crew']},"
            f'{log.column("run_id")},{row["run_id"]},{log.column("kind")},"{kind}")'
        )
        count = f'IF({row[key]}="",{logged},{row[key]})'
        minutes = key.replace("_joints", "_min")
        terms.append(f"{count}*INDEX({plan.column(minutes)},{run})")
    for other in CONNECTIONS:
        minutes = plan.column(f"{other.key}_min")
        terms.append(f"N({row[other.key]})*INDEX({minutes},{run})")
    return "+".join(terms)
