"""A job of three runs estimated once more, in plain formulas on one sheet.

The formulas are written from ``docs/method.md`` and from the notes of the input sheets; nothing of
the estimator is used. Every joint, move and rest is a row that is laid after the row before it.
The inputs are those of ``tests/test_one_sheet.py``, which builds the same job for the estimator:
the first run goes on the small machine class, the other two on the large one, in this order.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.one_sheet import RUNS, OneSheet, of_run

ROWS, DAYS, BEFORE, WORKDAYS, HALVINGS = 125, 45, 12, 16, 60
"""Rows of the plan, days of the calendar, of them before the start, workdays, steps of a root."""
TIERS = tuple((four, week) for four in (2, 1, 0) for week in (4, 3, 2, 1, 0))
MONTHS = ("feb", "mar")
MAIN, ALL_RUNS = (2, 3), "{paid.min1}+{paid.min2}+{paid.min3}"


def write(path: Path, cells: Mapping[str, Any], tables: Mapping[str, Any]) -> dict[str, str]:
    """Write the sheet and return the cell of each name."""
    sheet = OneSheet(path)
    sheet.title("inputs")
    for name, value in cells.items():
        sheet.put(name, value)
    for name, columns in tables.items():
        sheet.table(name, columns, len(next(iter(columns.values()))))
    for part in (pipe, minutes, melt, steps, days, plan, paid, labor, load, rental, hydrotest,
                 pieces, price, runs, items):  # fmt: skip
        sheet.title(part.__name__)
        part(sheet)
    sheet.close()
    return sheet.places


def rows_of(values: Mapping[str, Any], table: str) -> list[dict[str, Any]]:
    """Return the rows of a table of the recalculated sheet, by the names of their columns."""
    rows: dict[int, dict[str, Any]] = {}
    for name, value in values.items():
        if name.startswith(f"{table}.") and "#" in name:
            column, row = name.removeprefix(f"{table}.").split("#")
            rows.setdefault(int(row), {})[column] = value
    return [rows[row] for row in sorted(rows)]


def total(names: Any) -> str:
    """Return the sum of some formulas."""
    return "+".join(names)


def between(row: str) -> str:
    """Return the figure of a row by size band at the diameter of the run."""
    low, share = "{pipe.low#}", "{pipe.share#}"
    return f"(INDEX({row},{low})*(1-{share})+INDEX({row},{low}+1)*{share})"


def pipe(sheet: OneSheet) -> None:
    """Sizes, place between the size bands, joints."""
    low, high = "INDEX({bands.center},{.low})", "INDEX({bands.center},{.low}+1)"
    sheet.table("pipe", {
        "number": "=ROW()",
        "wall_in": "=ROUND({runs.od_in#}/{runs.dr#},3)",
        "wall_mm": "={.wall_in}*25.4",
        "od_mm": "={runs.od_in#}*25.4",
        "area_mm2": "=PI()*({.od_mm}-{.wall_mm})*{.wall_mm}",
        "mean_mm": "=1.06*{.wall_mm}",
        "inside_m": "=({.od_mm}-2*{.mean_mm})/1000",
        "kg_m": "=PI()*({.od_mm}-{.mean_mm})*{.mean_mm}/1000000*955",
        "low": "=IF({.od_mm}<{bands.center#1},1,MIN(4,MATCH({.od_mm},{bands.center},1)))",
        "share": f"=MAX(0,MIN(1,({{.od_mm}}-{low})/({high}-{low})))",
        "length": "={runs.seg1#}+{runs.seg2#}",
        "sticks": "=ROUNDUP({runs.seg1#}/{runs.stick#},0)",
        "sticks2": "=ROUNDUP({runs.seg2#}/{runs.stick#},0)",
        "in_string": "=IF({runs.string#}=0,9999,INT({runs.string#}/{runs.stick#}))",
        "strings": "=ROUNDUP({.sticks}/{.in_string},0)",
        "strings2": "=ROUNDUP({.sticks2}/{.in_string},0)",
        "ties1": "=IF({runs.seg2#}>0,{.strings}-1,0)",
        "ties": "={.strings}-1+MAX(0,{.strings2}-1)",
        "plain": "={.sticks}-{.strings}",
        "plain2": "={.sticks2}-{.strings2}",
        "fitting": "=2*{runs.elbows#}+3*{runs.tees#}+{runs.caps#}+{runs.flanges#}",
        "butt": "={.plain}+{.plain2}+{.ties}+{.fitting}+{runs.tie_ins#}",
        "like": "=ROUND({.od_mm}^2/{runs.dr#}*{runs.access#},6)",
    }, 3)  # fmt: skip
    whole = "ROUNDUP(ROUND((%s)*{rework_share},9),0)"
    earlier = "({pipe.like}={pipe.like#})*({pipe.number}<{pipe.number#})"
    up_to, first = "{.before}+{pipe.butt#}", "{.before}+{pipe.sticks#}-1"
    sheet.table("again", {
        "before": f"=SUMPRODUCT((({{pipe.like}}>{{pipe.like#}})+{earlier})*{{pipe.butt}})",
        "joints": f"={whole % up_to}-{whole % '{.before}'}",
        "joints1": f"=IF({{runs.seg2#}}>0,{whole % first}-{whole % '{.before}'},0)",
        "made": "={pipe.butt#}+{.joints}+1",
    }, 3)  # fmt: skip


def minutes(sheet: OneSheet) -> None:
    """Minutes of the tasks at each diameter, and of each kind of joint in each month."""
    for n in RUNS:
        found = [of_run("=" + between(f"{{tasks.a#{k}}}:{{tasks.e#{k}}}"), n) for k in range(1, 9)]
        sheet.table(f"task{n}", {"min": found}, 8)
    sheet.put("stretch", "={shift_h}/({straight_h}+({shift_h}-{straight_h})*(1-{ot_loss}))")
    sheet.put("work_min", "={shift_h}*60-{startup}-{wrapup}-{breaks}")
    chosen = '({tasks.for}="butt joint")*({tasks.pace}="%s")*({tasks.hidden}="%s")'
    for name, paced in (("crew", ("crew", "no")), ("machine", ("machine", "no")),
                        ("hidden", ("crew", "yes"))):  # fmt: skip
        sheet.each(f"{name}@", f"=SUMPRODUCT({chosen % paced}*{{task@.min}})")
    sheet.each("soak@", "=4.5*{pipe.wall_in#}")
    sheet.each("cool@", "=11*{pipe.wall_in#}")
    for number, month in enumerate(MONTHS, 1):
        cold = f"LOOKUP({{months.ambient#{number}}},{{cold.from}},{{cold.factor}})"
        sheet.each(f"pace@{month}", f"={{runs.access#}}*{cold}/{{efficiency}}*{{stretch}}")
        for kind, factor in (("plain", "1"), ("fitting", "{fitting_factor}"),
                             ("tie", "{tie_factor}")):  # fmt: skip
            pace = f"{{pace@{month}}}*{factor}"
            hidden = f"MAX({{cool@}},{{hidden@}}*{pace})"
            sheet.each(f"{kind}@{month}", f"={{crew@}}*{pace}+{{machine@}}+{{soak@}}+{hidden}")


def melt(sheet: OneSheet) -> None:
    """Heat that one joint takes: Neumann's melt front, its root by halving. Table `thermal`."""
    sheet.put("heater_c", "=((400+450)/2-32)/1.8")
    sheet.put("over_c", "={heater_c}-130")
    sheet.put("stefan", "=2.5*{over_c}/190")
    sheet.put("alpha_s", "=0.4/(950*2200)", "m2/s")
    sheet.put("alpha_l", "=0.25/(950*2500)", "m2/s")
    sheet.put("ratio", "=SQRT({alpha_l}/{alpha_s})")
    for number, month in enumerate(MONTHS, 1):
        cold = f"0.4/0.25*{{ratio}}*(130-{{months.ambient#{number}}})/{{over_c}}"
        gained = "EXP(-({.mid}^2))/ERF({.mid})"
        lost = f"{cold}*EXP(-(({{ratio}}*{{.mid}})^2))/ERFC({{ratio}}*{{.mid}})"
        sheet.table(f"root_{month}", {
            "low": "=0.001|IF({^sign}>0,{^mid},{^low})",
            "high": "=3|IF({^sign}>0,{^high},{^mid})",
            "mid": "=({.low}+{.high})/2",
            "sign": f"={gained}-{lost}-SQRT(PI())*{{.mid}}/{{stefan}}",
        }, HALVINGS)  # fmt: skip
        into_face = "2*950*2.5*{over_c}*SQRT({alpha_l}*{soak@}*60/PI())"
        root = f"{{root_{month}.mid#{HALVINGS}}}"
        sheet.each(f"joint_kj@{month}", f"=2*{{pipe.area_mm2#}}/1000000*{into_face}/ERF({root})")


def _steps_of(n: int) -> dict[str, tuple[int, str, str]]:
    """Return what is done on a run, in order: how it may be split, how many, minutes of one.

    Split: 0 within a shift, 1 over shifts, 2 a rest by clock. A month stands as ``$``.
    """
    arrive = {1: "0", 2: "{swap}", 3: "{move}+" + between("{bands.change}")}[n]
    tied = "IF({pipe.ties#}-{pipe.ties1#}+{runs.tie_ins#}>0,1,0)"
    return {
        "arrive": (1, str(min(1, n - 1)), arrive),
        "trial": (0, "1", "{plain@$}+{trial_extra}"),
        "plain": (0, "{pipe.plain#}", "{plain@$}"),
        "rework1": (0, "{again.joints1#}", "{plain@$}+{rework_extra}"),
        "rest1": (2, "IF({pipe.ties1#}>0,1,0)", "{rest}"),
        "tie1": (0, "{pipe.ties1#}", "{tie@$}"),
        "segment": (1, "IF({runs.seg2#}>0,1,0)", "{move}"),
        "plain2": (0, "{pipe.plain2#}", "{plain@$}"),
        "fitting": (0, "{pipe.fitting#}", "{fitting@$}"),
        "rework": (0, "{again.joints#}-{again.joints1#}", "{plain@$}+{rework_extra}"),
        "saddle": (0, "{runs.saddles#}", "{task@.min#8}*{pace@$}"),
        "bolt": (0, "{runs.flanges#}", "{task@.min#7}*{pace@$}"),
        "rest": (2, tied, "{rest}"),
        "tie": (0, "{pipe.ties#}-{pipe.ties1#}", "{tie@$}"),
        "closure": (0, "{runs.closures#}", "{task@.min#6}*{pace@$}"),
        "tie out": (0, "{runs.tie_ins#}", "{tie@$}"),
    }


def steps(sheet: OneSheet) -> None:
    """Write the steps of the three runs, with the number of rows before each."""
    found = [(n, name, *step) for n in RUNS for name, step in _steps_of(n).items()]
    sheet.table("steps", {
        "run": [n for n, *_ in found],
        "step": [name for _, name, *_ in found],
        "split": [split for _, _, split, *_ in found],
        "count": ["=" + of_run(count, n) for n, _, _, count, _ in found],
        **{month: ["=" + of_run(one.replace("$", month), n) for n, _, _, _, one in found]
           for month in MONTHS},
        "before": "=0|{^before}+{^count}",
    }, len(found))  # fmt: skip
    sheet.put("rows", "=SUM({steps.count})", f"at most {ROWS} are laid out below")


def days(sheet: OneSheet) -> None:
    """Calendar from some days before the start: workdays Mon-Sat, days lost to weather."""
    sunday_or_holiday = "OR(WEEKDAY({.date},2)=7,COUNTIF({holidays.date},{.date})>0)"
    share = "INDEX({months.lost},MATCH(MONTH({.date}),{months.month},0))"
    sheet.table("days", {
        "date": f"={{start}}-{BEFORE}|{{^date}}+1",
        "open": f"=IF({sunday_or_holiday},0,1)",
        "counts": "=IF({.date}<{start},0,{.open})",
        "account": f"=0.5|{{^account}}-{{^lost}}+{{.counts}}*{share}",
        "lost": "=IF(AND({.counts}=1,{.account}>=0.999999999),1,0)",
        "works": "={.counts}-{.lost}",
        "ordinal": "={.works}|{^ordinal}+{.works}",
    }, DAYS)  # fmt: skip
    sheet.table("workdays", {
        "k": list(range(1, WORKDAYS + 1)),
        "date": "=INDEX({days.date},MATCH({.k},{days.ordinal},0))",
    }, WORKDAYS)  # fmt: skip


def plan(sheet: OneSheet) -> None:
    """One row for each joint, move and rest: minutes on the day it begins and on the next."""
    found = "INDEX({steps.%s},{.step})"
    of_day = "IF(MONTH(INDEX({workdays.date},%s))=2,{.feb},{.mar})"
    tomorrow = of_day % "({^day}+1)"
    rested = "MAX(0,{.feb}-({^clock}-{^joined}))"
    fits = "{^clock}+{.today}<={work_min}+0.000001"
    moved = "MIN({.today},({work_min}-{^clock})*{.here})"
    in_string = total(f'({{.kind}}="{kind}")' for kind in
                      ("trial", "plain", "rework1", "plain2", "fitting", "rework"))  # fmt: skip
    before = "{^joined}-IF({.day}>{^day},1440,0)"

    def row(content: str) -> str:
        return f'IF({{.n}}>{{rows}},"",{content})'

    sheet.table("plan", {
        "n": list(range(1, ROWS + 1)),
        "step": "=" + row('COUNTIF({steps.before},"<"&{.n})'),
        "run": "=" + row(found % "run"),
        "kind": "=" + row(found % "step"),
        "split": "=" + row(found % "split"),
        "feb": "=" + row(found % "feb"),
        "mar": "=" + row(found % "mar"),
        "today": f"={of_day % 1}|" + row(f"IF({{.split}}=2,{rested},{of_day % '{^day}'})"),
        "here": "=1|" + row(f"IF(IF({{.split}}=1,{{^clock}}<{{work_min}},{fits}),1,0)"),
        "first": "={.today}|" + row(f"IF({{.split}}=1,{moved},{{.here}}*{{.today}})"),
        "later": "=0|" + row("IF({.split}=1,{.today}-{.first},IF({.split}=2,0,"
                             f"(1-{{.here}})*{tomorrow}))"),
        "over": "=0|" + row("IF(OR({.later}>0,AND({.split}=2,{.here}=0)),1,0)"),
        "day": "=1|" + row("{^day}+{.over}"),
        "clock": "={.today}|" + row("IF({.over}=1,{.later},{^clock}+{.first})"),
        "joined": "={.clock}|" + row(f"IF({in_string}>0,{{.clock}},{before})"),
        "begun": "=1|" + row("IF({.first}>0,{^day},{.day})"),
    }, ROWS)  # fmt: skip
    sheet.put("worked_days", "=MAX({plan.day})")


def _spent(run: str, kind: str) -> str:
    """Return the minutes of a run, or of one of its steps, on a workday."""
    more = f',{{plan.kind}},"{kind}"' if kind else ""
    begun = f"SUMIFS({{plan.first}},{{plan.run}},{run}{more},{{plan.begun}},{{.k}})"
    return f"{begun}+SUMIFS({{plan.later}},{{plan.run}},{run}{more},{{plan.day}},{{.k}})"


def paid(sheet: OneSheet) -> None:
    """Paid days, minutes of each run, people, and hours by class."""
    for row, role in enumerate(("operators", "laborers"), 1):
        sheet.each(f"{role}@", "=" + between(f"{{crew.a#{row}}}:{{crew.e#{row}}}"))

    def most(role: str) -> str:
        needs = ",".join(f"IF({{.min{n}}}>0,{{{role}{n}}},0)" for n in RUNS)
        return f"=0|IF({{.works}}=0,{{^{role}}},MAX({needs}))"

    week = "{paid.date#1}:{^date}-WEEKDAY({paid.date#1}:{^date},2)"
    filled = "SUMPRODUCT((%s={.date}-WEEKDAY({.date},2))*{paid.works#1}:{^works}*%s)"
    filled %= week, "{paid.straight#1}:{^straight}"
    sheet.table("paid", {
        "date": "={days.date#}",
        "works": "=IF({days.ordinal#}<={worked_days},{days.works#},0)",
        "k": "={days.ordinal#}",
        "lost": "=IF({days.ordinal#}<{worked_days},{days.lost#},0)",
        "paid": "={.works}+{.lost}",
        **{f"min{n}": f"=IF({{.works}}=0,0,{_spent(str(n), '')})" for n in RUNS},
        **{f"shared{n}": f"=0|IF({{.works}}=1,{{.min{n}}},{{^shared{n}}})" for n in RUNS},
        "all": "=MAX(0.001,{.shared1}+{.shared2}+{.shared3})",
        "swap": f"=IF({{.works}}=0,0,{_spent('2', 'arrive')})",
        "operators": most("operators"),
        "laborers": most("laborers"),
        "people": "={.paid}*({.operators}+{.laborers})",
        "straight": f"=0|IF({{.works}}=1,MIN({{straight_h}},MAX(0,{{week_h}}-{filled})),"
                    "{.lost}*{showup_h})",
        "over": "=IF({.works}=1,{shift_h}-{.straight},0)",
        "is_saturday": "=IF(AND({.works}=1,WEEKDAY({.date},2)=6),1,0)",
    }, DAYS)  # fmt: skip


def labor(sheet: OneSheet) -> None:
    """Pay by role: hours of each class to 0.01 h, an hour in the class that pays most."""
    for row, role in enumerate(("operators", "laborers"), 1):
        wage, burden, multiple = (
            f"{{crew.{column}#{row}}}" for column in ("wage", "burden", "multiple")
        )
        better = f"{{paid.is_saturday}}*IF({{saturday_multiple}}>{multiple},1,0)"
        classes = {
            "straight": "{paid.straight}*(1-{paid.is_saturday})",
            "overtime": f"{{paid.over}}*(1-{better})",
            "saturday": f"({{paid.straight}}*{{paid.is_saturday}}+{{paid.over}}*{better})",
        }
        for name, hours in classes.items():
            sheet.put(f"{role}.{name}", f"=ROUND(SUMPRODUCT({{paid.{role}}}*{hours}),2)")
        hours = total(f"{{{role}.{name}}}" for name in classes)
        sheet.put(f"wage.{role}", f"=ROUND(({hours})*{wage},2)")
        sheet.put(f"burden.{role}", f"=ROUND(({hours})*{wage}*{burden},2)")
        for name, factor in (("overtime", multiple), ("saturday", "{saturday_multiple}")):
            sheet.put(f"{name}.{role}", f"=ROUND({{{role}.{name}}}*{wage}*({factor}-1),2)")
    with_burden = "{wage.operators}+{wage.laborers}+{burden.operators}+{burden.laborers}"
    sheet.put("small_tools_sum", f"=ROUND(({with_burden})*{{small_tools}},2)")


def load(sheet: OneSheet) -> None:
    """Dates of the two machine classes, their load, and what the sets and the lifter burn."""
    sheet.put("first", "={workdays.date#1}")
    sheet.put("last", "=INDEX({workdays.date},{worked_days})")
    for name, used in (("m1", "({paid.min1}>0)"), ("m3", "(({paid.min2}+{paid.min3})>0)")):
        sheet.put(f"{name}.last", f"=SUMPRODUCT(MAX({used}*{{paid.date}}))")
        sheet.put(f"{name}.first", f"=60000-SUMPRODUCT(MAX({used}*(60000-{{paid.date}})))")
    sheet.put("g15.last", "={m3.first}-1", "a day with both machines takes the larger set")
    sheet.put("engine_h", "={shift_h}-{breaks}/60")
    _load_of(sheet, "m1", 1, hardest=1)
    _load_of(sheet, "m3", 2, hardest=3)
    sheet.put("small.fits", "=IF({m1.needs}<={generators.kw#1},1,0)", "must be 1")
    sheet.put("large.needed", "=IF({m3.needs}>{generators.kw#1},1,0)", "must be 1")
    sheet.each("stick_kg@", "={pipe.kg_m#}*{runs.stick#}*(1+{lift_reserve})")
    heaviest = "MAX({stick_kg1},{stick_kg2},{stick_kg3})"
    sheet.put("light.lifts", f"=IF({heaviest}<={{lifting.capacity#1}},1,0)", "must be 1")
    on_m1, on_m3 = "({paid.min1}>0)", "(({paid.min2}+{paid.min3})>0)"
    sheet.put("days.m1", f"=SUMPRODUCT({on_m1}*(1-{on_m3}))")
    sheet.put("days.both", f"=SUMPRODUCT({on_m1}*{on_m3})")
    sheet.put("days.m3", f"=SUMPRODUCT((1-{on_m1})*{on_m3})")

    def burnt(row: int, kw: str) -> str:
        half, full, rated = (f"{{generators.{what}#{row}}}" for what in ("half", "full", "kw"))
        line = f"{half}+({full}-{half})*({kw}/{rated}-0.5)/0.5"
        return f"MAX({line},0.1*{full})*{{engine_h}}"

    both = burnt(2, "({m1.mean}+{m3.mean})/2")
    sheet.put("fuel.g60.later", f"={{days.m3}}*{burnt(2, '{m3.mean}')}+{{days.both}}*{both}")
    sheet.put("fuel.g60.m1", f"={{days.m1}}*{burnt(2, '{m1.mean}')}")
    sheet.put("fuel.g15.m1", f"={{days.m1}}*{burnt(1, '{m1.mean}')}")
    sheet.put("fuel.l1", "={worked_days}*{engine_h}*{lift_share}*{lifting.fuel#1}")


def _load_of(sheet: OneSheet, name: str, row: int, hardest: int) -> None:
    """Load of one machine class; ``hardest`` is the run with its largest joint."""
    heater, facer, pump, plate = (
        f"{{machines.{column}#{row}}}" for column in ("heater", "facer", "pump", "plate")
    )
    begun = f"INDEX({{plan.begun}},MATCH({hardest},{{plan.run}},0))"
    in_feb = f"MONTH(INDEX({{workdays.date}},{begun}))=2"
    kj = f"IF({in_feb},{{joint_kj{hardest}feb}},{{joint_kj{hardest}mar}})"
    cycle = f"IF({in_feb},{{plain{hardest}feb}},{{plain{hardest}mar}})"
    coldest = f"IF(MONTH({{{name}.first}})=2,{{months.ambient#1}},{{months.ambient#2}})"
    starting = f"MAX({facer},{pump})/{{motor_efficiency}}*({{start_multiple}}-1)"
    for what, formula in {
        "motors": f"({facer}+{pump})/{{motor_efficiency}}",
        "running": f"{heater}+{{~.motors}}+{{site_load}}",
        "needs": f"MAX({{~.running}}*(1+{{margin}}),{{~.running}}+{starting})",
        "warm_min": f"{plate}*0.9*({{heater_c}}-{coldest})/0.7/{heater}/60",
        "joint_kw": f"{kj}/({cycle}*60)",
        "warm": "MIN(1,{~.warm_min}/({engine_h}*60))",
        "held": f"MIN(1,{{heater_loss}}+{{~.joint_kw}}/{heater})",
        "duty": "{~.warm}+(1-{~.warm})*{~.held}",
        "mean": f"{heater}*{{~.duty}}+{{~.motors}}*{{motor_share}}+{{site_load}}",
    }.items():
        sheet.put(f"{name}.{what}", "=" + formula.replace("~", name))


SPANS = {
    "m1": ("{m1.first}", "{m1.last}", "machines", 1),
    "m3": ("{m3.first}", "{m3.last}", "machines", 2),
    "g60": ("{first}", "{last}", "generators", 2),
    "g15": ("{first}", "{g15.last}", "generators", 1),
    "g60b": ("{m3.first}", "{last}", "generators", 2),
    "l1": ("{first}", "{last}", "lifting", 1),
}
"""What may be on rent: first and last day of use, table and row of its rates."""
HOURS_OF = {"day": "{rental_day_h}", "week": "40", "four": "160"}


def rental(sheet: OneSheet) -> None:
    """Machines, the better of two plans for the generators, lifting gear: rental and fuel."""
    for name in SPANS:
        _span(sheet, name)
    one = "MIN({g60.mixes.cost})+{g60.trips}+{fuel.g60.m1}*{fuel_price}"
    two = "MIN({g15.mixes.cost})+{g15.trips}+MIN({g60b.mixes.cost})+{g60b.trips}"
    sheet.put("plan.one", "=" + one, "the large set for all days")
    sheet.put("plan.two", f"={two}+{{fuel.g15.m1}}*{{fuel_price}}", "the small set first")
    sheet.put("two", "=IF({plan.two}<{plan.one},1,0)")
    taken = {"m1": "1", "m3": "1", "l1": "1", "g60": "(1-{two})", "g15": "{two}", "g60b": "{two}"}
    for what in ("rental", "exact", "trips"):
        sheet.put(what, "=" + total(f"{use}*{{{name}.{what}}}" for name, use in taken.items()))
    sheet.put("waiver", "=ROUND({exact}*{damage_waiver},2)")
    small = "ROUND({fuel.g15.m1},1)+ROUND({fuel.g60.later},1)"
    large = "ROUND({fuel.g60.m1}+{fuel.g60.later},1)"
    sheet.put("liters", f"=ROUND(ROUND({{fuel.l1}},1)+IF({{two}}=1,{small},{large}),1)")
    sheet.put("fuel", "=ROUND({liters}*{fuel_price},2)")


def _span(sheet: OneSheet, name: str) -> None:
    first, last, table, row = SPANS[name]
    rates = {tier: f"{{{table}.{tier}#{row}}}" for tier in HOURS_OF}
    came = f"SUMPRODUCT(MAX({{days.open}}*({{days.date}}<={first}-{{haul}})*{{days.date}}))"
    after = f"({{days.date}}>={last}+{{haul}})*(60000-{{days.date}})"
    gone = f"60000-SUMPRODUCT(MAX({{days.open}}*{after}))"
    sheet.put(f"{name}.span", f"={gone}-{came}+1", "calendar days on rent")
    cost = total(f"{{.{tier}}}*{rate}" for tier, rate in rates.items())
    sheet.table(f"{name}.mixes", {
        "four": [four for four, _ in TIERS],
        "week": [week for _, week in TIERS],
        "day": f"=MAX(0,{{{name}.span}}-28*{{.four}}-7*{{.week}})",
        "cost": f"=ROUND({cost},6)",
    }, len(TIERS))  # fmt: skip
    least = f"MATCH(MIN({{{name}.mixes.cost}}),{{{name}.mixes.cost}},0)"
    for tier in HOURS_OF:
        sheet.put(f"{name}.{tier}s", f"=INDEX({{{name}.mixes.{tier}}},{least})")
    used = {"m1": "({paid.min1}>0)", "m3": "(({paid.min2}+{paid.min3})>0)"}
    dates = f"({{paid.date}}>={first})*({{paid.date}}<={last})"
    days_used = f"SUMPRODUCT({used.get(name, f'(({ALL_RUNS})>0)')}*{dates})"
    sheet.put(f"{name}.beyond", f"={days_used}*MAX(0,{{shift_h}}-{{rental_day_h}})")
    covers = total(f"{{{name}.{tier}s}}*{hours}" for tier, hours in HOURS_OF.items())
    exact = []
    for tier, hours in HOURS_OF.items():
        part = f"{{{name}.beyond}}*{{{name}.{tier}s}}*{hours}/MAX(1,{covers})"
        sheet.put(f"{name}.{tier}_rent", f"=ROUND({{{name}.{tier}s}}*{rates[tier]},2)")
        sheet.put(f"{name}.{tier}_hours", f"=ROUND({part},2)")
        charged = f"{{{name}.{tier}_hours}}*{rates[tier]}/{hours}"
        sheet.put(f"{name}.{tier}_beyond", f"=ROUND({charged},2)")
        exact.append(f"{{{name}.{tier}_rent}}+{charged}")
    sheet.put(f"{name}.trips", f"=ROUND(2*{{{table}.trip#{row}}},2)")
    charges = (f"{{{name}.{tier}_{what}}}" for tier in HOURS_OF for what in ("rent", "beyond"))
    sheet.put(f"{name}.rental", "=" + total(charges))
    sheet.put(f"{name}.exact", "=" + total(exact), "before the lines are rounded")


def hydrotest(sheet: OneSheet) -> None:
    """Water, hours, dates and cost of the one test."""
    water = "({pipe.length})*PI()/4*({pipe.inside_m})^2*({runs.tested})"
    for name, formula in {
        "water_l": f"1000*SUMPRODUCT({water})",
        "before_h": "{setup_h}+{water_l}/{fill_rate}/3600+{bleed_h}",
        "pressure_h": "{raise_h}+4+1",
        "test_h": "ROUND({before_h}+{pressure_h}+{drain_h},2)",
        "test_people_h": "ROUND({test_people}*{test_h},2)",
        "repeat_people_h": "{test_people}*{repeat_share}*({bleed_h}+{pressure_h})",
        "test.labor": "ROUND({test_people_h}*{test_wage},2)",
        "test.repeat": "ROUND({repeat_people_h}*{test_wage},2)",
        "test.equipment": "ROUND({test_equipment},2)",
        "test.water": "ROUND(ROUND({water_l},0)*{water_price},2)",
        "test.disposal": "ROUND(ROUND({water_l},0)*{disposal_price},2)",
        "press_day": "IF({before_h}+{pressure_h}<={shift_h},1,2)",
        "left_h": "{shift_h}-{pressure_h}-IF({press_day}=1,{before_h},0)",
        "test_days": "{press_day}+IF({drain_h}<={left_h},0,1)",
        "finish": "INDEX({workdays.date},{worked_days}+{test_days})",
    }.items():
        sheet.put(name, "=" + formula)


def pieces(sheet: OneSheet) -> None:
    """Consumables, connections, fittings, pipe and other costs."""
    for name, quantity, price in (
        ("consumables.A", "{again.made#1}", "{consumable}"),
        ("consumables.B", "({again.made#2}+{again.made#3})", "{consumable_b}"),
        ("trials.A", "1", "{trial_price}"),
        ("trials.B", "2", "{trial_price}"),
        ("closures", "SUM({runs.closures})", "{closure_price}"),
        ("bolts", "SUM({runs.flanges})", "{bolt_price}"),
        ("saddles", "SUM({runs.saddles})", "{saddle_price}"),
        ("elbows", "{runs.elbows#2}", "{elbow_price}"),
        ("pipe.R1", "({pipe.sticks#2}+{pipe.sticks2#2})*{runs.stick#2}",
         "{pipe_price}*(1+{pipe_waste})"),
        ("survey", "{survey_each}*SUM({pipe.length})", "{survey_price}"),
        ("records", "{record_each}*SUM({pipe.butt})", "{record_price}"),
        ("flagging", "1", "{flag_price}"),
    ):  # fmt: skip
        sheet.put(name, f"=ROUND({quantity}*{price},2)")


TYPES = ("labor", "equipment", "materials", "subcontract", "other")


def price(sheet: OneSheet) -> None:
    """Indirect cost, cost by type, and the markups."""
    for name, formula in {
        "crew_up": "ROUND({crew_mobilization},2)",
        "crew_days": "ROUND(SUM({paid.paid})*{crew_overhead},2)",
        "per_diem": "ROUND(ROUND(SUM({paid.people}),2)*{diem},2)",
        "site": "ROUND(SUM({paid.paid})*{site_day},2)",
        "test.per_diem": "ROUND({test_people}*{test_days}*{diem},2)",
        "test.site": "ROUND({test_days}*{site_day},2)",
        "late": "ROUND(MAX(0,{finish}-{deadline})*{late_price},2)",
        "tests": total(f"{{test.{part}}}" for part in
                       ("labor", "repeat", "equipment", "water", "disposal", "per_diem", "site")),
        "pay": total(f"{{{line}.{role}}}" for role in ("operators", "laborers")
                     for line in ("wage", "burden", "overtime", "saturday")),
        "type.labor": "{pay}+{small_tools_sum}+{per_diem}",
        "type.equipment": "{rental}+{trips}+{waiver}+{fuel}",
        "type.materials": "{consumables.A}+{consumables.B}+{trials.A}+{trials.B}+{closures}"
                          "+{bolts}+{saddles}+{elbows}+{pipe.R1}+{records}",
        "type.subcontract": "{survey}",
        "type.other": "{tests}+{mobilization}+{demobilization}+{crew_up}+{crew_days}+{site}"
                      "+{flagging}",
        "marked": total(f"{{type.{name}}}" for name in TYPES),
        "job_cost": "{marked}+{late}",
    }.items():  # fmt: skip
        sheet.put(name, "=" + formula)
    overhead = {name: "{overhead}" for name in TYPES} | {"labor": "{overhead_labor}"}
    profit = {name: "{profit}" for name in TYPES} | {"materials": "{profit_materials}"}
    loaded = {name: f"{{type.{name}}}*(1+{overhead[name]}+{{contingency}})" for name in TYPES}
    carried = total(f"{{type.{name}}}*{share}" for name, share in overhead.items())
    earned = total(f"{one}*{profit[name]}" for name, one in loaded.items())
    for name, formula in {
        "overhead_sum": f"ROUND({carried},2)",
        "contingency_sum": "ROUND({marked}*{contingency},2)",
        "average": f"({earned})/({total(loaded.values())})",
        "before_profit": "{job_cost}+{overhead_sum}+{contingency_sum}",
        "profit_sum": "ROUND(({before_profit}-{late})*{average},2)",
        "before_bond": "{before_profit}+{profit_sum}",
        "price": "ROUND({before_bond}/(1-{bond})/{bid_step},0)*{bid_step}",
        "total": "{price}+ROUND({price}*{tax},2)",
        **{
            f"factor.{name}": f"(1+{overhead[name]}+{{contingency}})*(1+{profit[name]})"
            for name in TYPES
        },
    }.items():
        sheet.put(name, "=" + formula)


BY_HOURS = {
    "pay_tools": ("{pay}+{small_tools_sum}", "labor"), "diem_sum": ("{per_diem}", "labor"),
    "rented": ("{rental}+{trips}+{waiver}", "equipment"), "fuel_sum": ("{fuel}", "equipment"),
    "flags": ("{flagging}", "other"), "site_sum": ("{site}+{crew_days}", "other"),
    "moving": ("{mobilization}+{demobilization}+{crew_up}", "other"), "late_sum": ("{late}", ""),
}  # fmt: skip
"""What is shared out by labor-hours, each kind of cost for itself, and its type of cost."""
FACTORS = {name: f"{{factor.{of_type}}}" if of_type else "1"
           for name, (_, of_type) in BY_HOURS.items()} | {
    "survey": "{factor.subcontract}", "records": "{factor.materials}", "tests": "{factor.other}",
    "welds": "{factor.materials}", "trials": "{factor.materials}",
}  # fmt: skip
"""Price factor of each share of a run."""


def runs(sheet: OneSheet) -> None:
    """Labor-hours, cost and price of each run; the change-out goes to both runs that it brings."""
    hours = "{paid.people}*({paid.straight}+{paid.over})"
    sheet.put("swap_h", f"=SUMPRODUCT({{paid.swap}}/{{paid.all}}*{hours})")
    sheet.each("minutes@", "=SUM({paid.min@})")
    sheet.each("raw@", f"=SUMPRODUCT({{paid.shared@}}/{{paid.all}}*{hours})")
    sheet.put("swap_min", "=SUM({paid.swap})")
    sheet.put("on_m3", "={minutes2}+{minutes3}-{swap_min}")
    sheet.put("hours1", "={raw1}")
    sheet.put("hours2", "={raw2}-{swap_h}+{swap_h}*({minutes2}-{swap_min})/{on_m3}")
    sheet.put("hours3", "={raw3}+{swap_h}*{minutes3}/{on_m3}")
    sheet.put("hours", "={hours1}+{hours2}+{hours3}")
    for name, (amount, _) in BY_HOURS.items():
        sheet.each(f"{name}.run@", f"=ROUND(({amount})/{{hours}}*{{hours@}},2)")
    tested = "SUMPRODUCT({pipe.length}*{runs.tested})"
    for name, formula in {
        "survey": "{survey}/SUM({pipe.length})*{pipe.length#}",
        "records": "{records}/SUM({pipe.butt})*{pipe.butt#}",
        "tests": f"{{tests}}/{tested}*{{pipe.length#}}*{{runs.tested#}}",
        "welds": "IF(@=1,{consumables.A},{consumables.B}/({again.made#2}+{again.made#3})"
                 "*{again.made#})",
        "trials": "IF(@=1,{trials.A},{trials.B}/2)",
    }.items():  # fmt: skip
        sheet.each(f"{name}.run@", f"=ROUND({formula},2)")
    own = {1: "{closures}+{bolts}", 2: "{elbows}+{pipe.R1}", 3: "{saddles}"}
    for n in RUNS:
        sheet.put(f"own.run{n}", "=" + own[n])
        carried = total(f"{{{name}.run{n}}}" for name in FACTORS)
        sheet.put(f"cost.run{n}", f"={{own.run{n}}}+{carried}")
        marked = total(f"{{{name}.run{n}}}*{factor}" for name, factor in FACTORS.items())
        own_part = f"{{own.run{n}}}*{{factor.materials}}"
        sheet.put(f"part.run{n}", f"=ROUND({own_part}+{marked},2)", "before bond")
    sheet.each("price.run@", "=ROUND({price}*{part.run@}/{before_bond},2)")


def items(sheet: OneSheet) -> None:
    """Items of the bid: tie-ins by their part of the minutes, mobilization what is left."""
    made = total(f'SUMIFS({{plan.{part}}},{{plan.run}},@,{{plan.kind}},"tie*")'
                 for part in ("first", "later"))  # fmt: skip
    work = [name for name in BY_HOURS if name != "moving"]
    cost = total(f"{{{name}.run@}}" for name in work)
    marked = total(f"{{{name}.run@}}*{FACTORS[name]}" for name in work)
    sheet.each("tie_share@", f"=ROUND(({made})/{{minutes@}},4)")
    sheet.each("ties.run@", f"=ROUND({{tie_share@}}*({cost}),2)")
    sheet.each("tie_part@", f"=ROUND({{tie_share@}}*({marked}),2)")
    sheet.each("item.run@", "={cost.run@}-{ties.run@}-{tests.run@}-{moving.run@}-{trials.run@}")
    apart = total(f"ROUND({{{name}.run@}}*{FACTORS[name]},2)"
                  for name in ("tests", "moving", "trials"))  # fmt: skip
    sheet.each("item_part@", f"={{part.run@}}-{{tie_part@}}-({apart})")
    sheet.each("unit.run@", "=ROUND({price}*{item_part@}/{before_bond}/{pipe.length#},2)")
    sheet.each("amount.run@", "=ROUND({pipe.length#}*{unit.run@},2)")
    number = "MAX(1,SUM({pipe.ties})+SUM({runs.tie_ins}))"
    all_ties = "({tie_part1}+{tie_part2}+{tie_part3})"
    sheet.put("unit.ties", f"=ROUND({{price}}*{all_ties}/{{before_bond}}/{number},2)")
    sheet.put("amount.ties", f"=ROUND({number}*{{unit.ties}},2)")
    for name, cost, of_type in (("demobilization", "{demobilization}", "other"),
                                ("trials", "({trials.A}+{trials.B})", "materials"),
                                ("tests", "{tests}", "other")):  # fmt: skip
        part = f"ROUND({cost}*{{factor.{of_type}}},2)"
        sheet.put(f"amount.{name}", f"=ROUND({{price}}*{part}/{{before_bond}},2)")
    others = ("run1", "run2", "run3", "ties", "demobilization", "trials", "tests")
    sheet.put("amount.mobilization", "={price}-" + "-".join(f"{{amount.{one}}}" for one in others))
