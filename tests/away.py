"""Jobs drawn at random, with what the drawing leaves alone moved off its default, too."""

import datetime as dt
import random

from estimator.joint.geometry import pipe_geometry
from estimator.models.bid_inputs import OwnerItem
from estimator.models.calendar import CrewDates, Hold
from estimator.models.kinds import MARKUP_TYPES
from estimator.models.priced_items import FittingPrice
from tests.jobs import money

OWNER_ITEMS = (
    {"item": "Tie-in joints", "owner_no": "20", "owner_text": "Tie-ins",
     "price": money(417.5, "each")},
    {"item": "Demobilization", "owner_no": "5", "unit": "JOB"},
)  # fmt: skip
DERATED = ("step rule", "ISO 3046 form")


def away(job, seed):
    """Return a job with more of its inputs off their defaults, the same for the same seed."""
    chance = random.Random(f"away {seed}")
    weekend = {"workdays": "Mon-Sun" if seed % 2 else "Tue-Sun"}
    changed = job.changed(
        fleet_choice="run by run",
        cool_in_wrapup=seed % 2 == 0,
        straight_week_hours=chance.choice((37.0, 41.5)),
        saturday_multiple=chance.choice((1.3, 1.45)),
        sunday_multiple=chance.choice((2.1, 1.8)),
        night_premium=chance.choice((0.11, 0.07)),
        waiting_days=chance.choice((2, 9)),
        open_hold_days=chance.choice((3, 8)),
        relax_hours=chance.choice((6.0, 20.0)),
        lifters_per_crew=chance.choice((1, 2)),
        derating_rule=chance.choice(DERATED),
        hydro_expansion_hours=chance.choice((None, 2.25)),
        hydro_hold_hours=chance.choice((None, 1.75)),
        pipe_items=chance.choice(("with fusion", "own items")),
        beyond_wall_limit=chance.choice((True, False)),
        **_own_figures(chance),
        **weekend,
    )
    return changed.model_copy(
        update={
            "runs": _runs(changed, chance),
            "rates": _rates(changed.rates, chance),
            "weather": tuple(
                month.model_copy(update={"ambient_c": chance.choice((None, 11.0, 26.5))})
                for month in changed.weather
            ),
            "holidays": tuple(
                day.model_copy(
                    update={
                        "worked": chance.random() < 0.5,
                        "date": day.date + dt.timedelta(days=chance.randint(0, 1)),
                    }
                )
                for day in changed.holidays
            ),
            "generators": tuple(
                one.model_copy(
                    update={
                        "power_factor": chance.choice((0.8, 0.85)),
                        "reactance": chance.choice((0.2, 0.17)),
                    }
                )
                for one in changed.generators
            ),
            "machines": tuple(
                one.model_copy(update={"stock": one.stock + 2}) for one in changed.machines
            ),
            "crew_dates": _crew_dates(changed, chance),
            "holds": _holds(changed, chance),
            "fitting_prices": _fitting_prices(changed, chance),
            "other_costs": tuple(
                row.model_copy(update={"unit": chance.choice(("each", "day"))})
                for row in changed.other_costs
            ),
            "owner_items": tuple(OwnerItem(**row) for row in OWNER_ITEMS if chance.random() < 0.6),
        }
    )


def _own_figures(chance):
    """Return figures of the user's own in place of the method's."""
    return {
        "own_cooling_s_mm": chance.choice((None, 77.0)),
        "own_interfacial_mpa": chance.choice((None, 0.47)),
    }


def _rates(rates, chance):
    """Return the rates with crews' own and with a markup of each type of cost."""
    own = {
        f"{markup}_{of_type}": round(chance.uniform(0.01, 0.12), 4)
        for markup in ("overhead", "contingency", "profit")
        for of_type in MARKUP_TYPES
        if chance.random() < 0.5
    }
    crews = {"crew_mobilization": money(2750.5, "crew"), "crew_overhead": money(118.25, "crew-day")}
    return rates.model_copy(
        update={**own, **{k: chance.choice((None, v)) for k, v in crews.items()}}
    )


def _runs(job, chance):
    """Return the runs, and one more that ties into the first and asks for a class of machine."""
    first = job.runs[0]
    last = {"run_id": "JOIN", "tie_ins": 1, "joins": first.run_id, "after": None, "reducers": 0,
            "reduce_to": None, "machine": _class_for(first, job.machines)}  # fmt: skip
    return tuple(_run(run, chance) for run in (*job.runs, first.model_copy(update=last)))


def _class_for(run, machines):
    """Return the second class that takes the diameter of a run, or the only one."""
    od_mm = pipe_geometry(run.od_system, run.size, run.dr, run.material).od_mm
    fit = [one.class_id for one in machines if one.od_min_mm <= od_mm <= one.od_max_mm]
    return fit[:2][-1]


def _run(run, chance):
    """Return a run with sweeps, angles of its elbows, and fittings of a make."""
    update = {"sweeps": chance.choice((0, 2)), "fittings_made": chance.choice((None, "molded"))}
    if run.elbows > 1:
        update["elbow_angles"] = f"{run.elbows - 1} x 90; 1 x 22-1/2"
    if run.reducers:
        update["reducing_tees"] = 1
    return run.model_copy(update=update)


def _crew_dates(job, chance):
    """Return dates of a crew with a shift of their own, and a later return."""
    first = job.dates.start + dt.timedelta(days=chance.randint(0, 6))
    if chance.random() < 0.3:
        return ()
    crew = chance.randint(1, job.resources.crews)
    hours, machines = job.shift.shift_hours, job.resources.machines_per_crew
    return (
        CrewDates(crew=crew, from_date=first, to_date=first + dt.timedelta(days=8),
                  shift_hours=chance.choice((None, hours - 0.5)),
                  machines=chance.choice((None, min(3, machines + 1)))),
        CrewDates(crew=crew, from_date=first + dt.timedelta(days=12), to_date=None),
    )  # fmt: skip


def _holds(job, chance):
    """Return a day of rain for all, and a run that waits for a permit, with an end or without."""
    rain, wait = (job.dates.start + dt.timedelta(days=n) for n in (2, chance.randint(1, 7)))
    every = Hold(from_date=rain, to_date=rain, cause="weather", paid=chance.random() < 0.5)
    until = chance.choice((None, wait + dt.timedelta(days=3)))
    one = Hold(run=job.runs[0].run_id, from_date=wait, to_date=until, cause="permit",
               charge_to="client")  # fmt: skip
    return tuple(hold for hold in (every, one) if chance.random() < 0.7)


def _fitting_prices(job, chance):
    """Return the prices of elbows by angle and make, and of reducers and reducing tees."""
    rows = []
    for row in job.fitting_prices:
        rows += [row.model_copy(update={"angle": 90.0, "made": chance.choice((None, "molded"))}),
                 row.model_copy(update={"angle": 22.5, "price": money(61.3, "each")})]  # fmt: skip
    ends = {(run.od_system, run.size, run.dr, run.reduce_to) for run in job.runs if run.reducers}
    return (*rows, *(
        FittingPrice(kind=kind, od_system=system, size=size, dr=dr, to_size=small,
                     price=money(204.5, "each"))
        for system, size, dr, small in sorted(ends)
        for kind in ("reducer", "reducing tee")
    ))  # fmt: skip
