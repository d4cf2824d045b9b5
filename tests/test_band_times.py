"""Times and crew between size bands, and change-outs by class: no cliff where a band ends."""

import datetime as dt
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimator import estimate
from estimator.inputs.dictionary import fields
from estimator.joint.cycle import band_share, butt_elements
from estimator.joint.geometry import pipe_od_mm
from estimator.models.bands import BandShare, SizeBand
from estimator.models.plan import CrewDay, Plan, PlanLine
from estimator.plan.hours_by_run import HoursByRun
from estimator.plan.paid_shifts import people_at
from estimator.standards import tables
from estimator.standards.pipe_names import ratio_label
from estimator.warnings.price_jumps import _like, _Size, _sizes, _why
from estimator.workbook.book import parse_workbook
from estimator.workbook.read.columns import value_if_absent
from tests.jobs import job, machine, role, run, task_times
from tests.workbook_factory import WorkbookFactory
from workbook_template.content import table_rows

# Bands to 100, 300 and 500 mm: their middles are 50, 200 and 400 mm.
BANDS = (
    SizeBand(band="A", od_to_mm=100.0, size_change_min=20.0),
    SizeBand(band="B", od_to_mm=300.0, size_change_min=30.0),
    SizeBand(band="C", od_to_mm=500.0, size_change_min=50.0),
)


@pytest.mark.parametrize(
    ("od_mm", "place"),
    [
        (30.0, BandShare("A", "A", 0.0)), (50.0, BandShare("A", "A", 0.0)),
        (95.0, BandShare("A", "B", 0.3)), (125.0, BandShare("A", "B", 0.5)),
        (200.0, BandShare("B", "B", 0.0)), (350.0, BandShare("B", "C", 0.75)),
        (450.0, BandShare("C", "C", 0.0)),
    ],
)  # fmt: skip
def test_the_place_between_the_middles_of_two_bands_by_hand(od_mm, place):
    assert band_share(od_mm, BANDS, "between centers") == place
    band = next(row.band for row in BANDS if od_mm <= row.od_to_mm)
    assert band_share(od_mm, BANDS, "steps") == BandShare.inside(band)


def test_minutes_people_and_size_changes_go_evenly_by_hand():
    """Three tenths of the way: 2 and 4 min are 2.6, 1 and 3 people 1.6, 20 and 30 min 23."""
    place = BandShare("A", "B", 0.3)
    task = task_times()[0].model_copy(update={"min_a": 2.0, "min_b": 4.0, "paced_by": "crew"})
    (element,) = butt_elements([task], place, 2.0)
    assert element.minutes == pytest.approx(2 * 2.6)
    of_crew = role("Laborer", 1.0, 27.0).model_copy(update={"heads_b": 3.0, "further_heads": 0.5})
    assert people_at(of_crew, place, 1) == pytest.approx(1.6)
    assert people_at(of_crew, place, 2) == pytest.approx(2.1)
    assert place.of({"A": 20.0, "B": 30.0}) == pytest.approx(23.0)


@given(st.floats(1.0, 499.0), st.floats(0.0, 1.0))
def test_a_figure_that_rises_by_band_rises_without_a_jump(od_mm, more_mm):
    """From 10 to 20 over 150 mm and to 40 over 200 mm: at most a tenth for each millimeter."""
    figures = {"A": 10.0, "B": 20.0, "C": 40.0}
    near, far = (band_share(od, BANDS, "between centers").of(figures)
                 for od in (od_mm, od_mm + more_mm))  # fmt: skip
    assert -1e-9 <= far - near <= 0.1 * more_mm + 1e-9


SIZES = ("4", "6", "8", "10", "12", "14", "16", "18", "20", "24", "30", "36")
TABLES = ("machines", "generators", "lifting", "crew", "size_bands", "task_times", "cold_factors",
          "material_prices", "weather")  # fmt: skip


LIKE_PIPE = {"od_system": "IPS", "dr": 17, "segments_m": 20_000, "stick_length_m": 40,
             "placement": "trench", "material": "PE4710"}  # fmt: skip


def priced_ladder(times, system="US", sizes=SIZES, **pipe):
    """Return like pipe, one run for each size, estimated with the template's own figures."""
    factory = WorkbookFactory(system=system)
    factory.tables |= {name: table_rows(name, system, None) for name in TABLES}
    for table in ("overtime", "crew_dates", "holds", "holidays", "scenarios", "fitting_prices",
                  "other_costs", "risk"):  # fmt: skip
        factory.tables[table] = []
    factory.tables["schedule"] = [{"run_id": s, "size": s, **LIKE_PIPE, **pipe} for s in sizes]
    factory.named["job"] |= {"band_times": times, "deadline": dt.date(2040, 1, 1),
                             "test_joint_rule": "none", "rework_share": 0}  # fmt: skip
    return estimate(parse_workbook(factory.build()).job)


def ladder(times):
    """Return class, labor-hours and cost a joint of like pipe, size by size."""
    found = priced_ladder(times)
    return [
        (one.machine.class_id, found.labor_hours[one.run_id] / one.counts.butt_joints,
         float(found.by_run.by_run[one.run_id].cost) / one.counts.butt_joints)
        for one in found.runs
    ]  # fmt: skip


def test_joints_of_like_pipe_cost_more_size_by_size_without_a_cliff():
    """Up by 25 % at most, or as the diameter does, but where a class of machine is added; the step
    from 12 to 14 in, where a band ends and a class is added too, is below that in place of near a
    doubling."""
    smooth = ladder("between centers")
    for (size, one), (bigger, other) in pairwise(zip(SIZES, smooth, strict=True)):
        wider = pipe_od_mm("IPS", bigger) / pipe_od_mm("IPS", size)
        assert other[1] > one[1]
        assert other[2] > one[2]
        if one[0] == other[0]:
            assert other[2] < one[2] * max(1.25, wider)
    at_12, at_14 = SIZES.index("12"), SIZES.index("14")
    assert smooth[at_14][2] < 1.25 * smooth[at_12][2]
    stepped = ladder("steps")
    assert stepped[at_14][2] > 1.8 * stepped[at_12][2]


SI_SIZES = ("75", "90", "110", "125", "140", "160", "180", "200", "225", "250", "280", "315",
            "355", "400", "450", "500", "560", "630", "710", "800", "900")  # fmt: skip
SWEEPS = tuple(
    (system, dr, sticks) for system in ("US", "SI") for dr in (11, 17, 26) for sticks in (500, 30)
)


def sweep(system, dr, sticks):
    if system == "US":
        return priced_ladder("between centers", dr=dr, segments_m=40 * sticks)
    si = {"od_system": "ISO", "material": "PE100", "placement": "surface", "stick_length_m": 12}
    return priced_ladder("between centers", "SI", SI_SIZES, **si, dr=dr, segments_m=12 * sticks)


def per_joint(found, one):
    """Return the cost of joining a joint of a run: no lump sums, nothing that is bought."""
    kinds = [each.cost_type in ("Labor", "Equipment", "Fuel", "Consumables")
             for each in found.by_run.allocations]  # fmt: skip
    amounts = found.by_run.by_run[one.run_id].amounts
    total = sum(float(x) for x, is_of in zip(amounts, kinds, strict=True) if is_of)
    return total / one.counts.butt_joints


@pytest.mark.parametrize(("system", "dr", "sticks"), SWEEPS)
def test_every_jump_of_like_pipe_is_named_with_its_reason(system, dr, sticks):
    """In inches and in millimeters, by wall, with long and with short runs."""
    found = sweep(system, dr, sticks)
    costs = [(small, large, per_joint(found, large) / per_joint(found, small))
             for small, large in pairwise(found.runs)
             if large.geometry.od_mm <= 1.35 * small.geometry.od_mm]  # fmt: skip
    for word, differs in (("rises", lambda r: r > 1.25), ("falls", lambda r: r < 0.95)):
        said = [one.message for one in found.warnings if f"fusion {word}" in one.message]
        pairs = [(small, large) for small, large, ratio in costs if differs(ratio)]
        assert len(said) == len(pairs)
        for (small, large), words in zip(pairs, said, strict=True):
            unit = "mm" if system == "SI" else "in IPS"
            wall = f" {ratio_label(large.geometry.od_system)} {dr}" if word == "falls" else ""
            sizes = f"From {small.run_id} to {large.run_id} {unit}{wall}"
            assert words.startswith(f"{sizes} fusion {word}")
            assert (" a joint of like pipe" in words) is bool(wall)
            assert "nothing stands out" not in words


def listed(od_system):
    """Return the sizes of a system that the fleet of a new workbook joins."""
    rows = tables.load("pipe_od")
    return [row["nominal_size"] for row in rows
            if row["od_system"] == od_system and 60 <= row["od_mm"] <= 1250]  # fmt: skip


@pytest.mark.parametrize("dr", [9, 17, 26])
@pytest.mark.parametrize("od_system", ["IPS", "DIPS", "ISO"])
def test_a_joint_alone_jumps_only_with_a_class_or_people_over_all_sizes(od_system, dr):
    """Like pipe, every size from the table: by its own minutes a joint costs more than that of the
    size before, and over 25 % more, or more than the diameter grows, only where a machine class or
    a third of a person is added. (DIPS 6 to 8 is 31 % in diameter, and so in wall and cooling.)
    """
    pipe = {"od_system": od_system, "dr": dr, "placement": "surface"}
    if od_system == "ISO":
        pipe |= {"material": "PE100", "stick_length_m": 12, "segments_m": 6000}
    system = "SI" if od_system == "ISO" else "US"
    found = priced_ladder("between centers", system, listed(od_system), **pipe)
    sizes = _sizes(found, _like)
    assert len(sizes) == len(listed(od_system)) >= 14
    for small, large in pairwise(sizes):
        before, after = (one.per_joint(alone=True) for one in (small, large))
        added = large.classes - small.classes or large.people - small.people > 0.3
        assert before < after
        assert added or after <= max(1.25, large.od_mm / small.od_mm) * before, large.size


def a_size(od_mm, crew_min, joining_min, **changes):
    """30 joints, $300 an hour of the crew."""
    figures = {"by_time": 5.0 * crew_min, "joints": 30, "crew_min": crew_min} | changes
    return _Size("ISO", f"{od_mm:.0f}", od_mm, "A", 11.0, joining_min=joining_min, **figures)


def test_paid_time_beside_the_joints_is_named_by_hand():
    """Paid 20 min a joint, 16 of them joining; then 40 and 17: 23 less 4 are 19 min more beside.

    With 21.5 paid at $300 an hour it is half a minute more, less than a tenth of what it rises by
    (7.5 %; 0.4 of it is 3 %, of 20 min 0.6), and one more for the joint.
    """
    small, idle = a_size(110.0, 600.0, 480.0), a_size(125.0, 1200.0, 510.0)
    busy = a_size(125.0, 645.0, 510.0)
    assert _why(small, idle).startswith("19 min more outside it")
    assert _why(small, busy) == "1 min more for the joint itself (Task times, the wall)"


def test_causes_of_a_fall_by_hand():
    """From $100 a joint to $85: 3 min less at $5, paid 20 and 17; the joint 16 and 16.

    At $255 for the crew-hour and 20 min it is $85 too: $45 less an hour. With consumables of $4
    and 1 a joint, 104 and 86, they are named from 0.4 x 17.3 % of 104, $7.20, on: not here.
    """
    small = a_size(110.0, 600.0, 480.0, classes={"M1"}, people=3.0)
    quick = a_size(125.0, 510.0, 480.0, classes={"M1"}, people=2.5)
    assert _why(small, quick) == ("0.5 fewer people a crew, 3 min less outside it")
    one = a_size(125.0, 510.0, 480.0, classes={"M1"}, people=2.0)
    assert _why(small, one).startswith("1 fewer person a crew, ")
    cheap = a_size(125.0, 600.0, 480.0, by_time=2550.0, classes={"M1"}, people=3.0)
    assert _why(small, cheap) == "45 less for each paid crew-hour (premiums, rent, fuel)"
    other = a_size(125.0, 600.0, 480.0, by_time=2550.0, classes={"M2"}, people=3.0)
    assert _why(small, other) == "machine class M2 in place of M1"
    none = a_size(125.0, 600.0, 480.0, by_time=2550.0, people=3.0)
    assert _why(small, none) == "machine class M1 no longer serves"
    bought = a_size(125.0, 600.0, 480.0, classes={"M1"}, people=3.0, consumables=-450.0)
    assert _why(small, bought) == "15.00 less of consumables per joint"


def test_a_joint_alone_is_its_part_of_the_paid_time_by_hand():
    """5 joints in 400 paid min, 100 of them joining, $2,000 and $50 of consumables: $500 + 50 over
    5 are $110 alone, and $410 with what is beside them."""
    few = a_size(110.0, 400.0, 100.0, joints=5, consumables=50.0)
    assert few.per_joint(alone=True) == pytest.approx(110.0)
    assert few.per_joint(alone=False) == pytest.approx(410.0)


@pytest.mark.parametrize("joints", [1, 4, 9])
def test_sizes_of_few_joints_are_compared_by_their_own_minutes(joints):
    """From 24 to 30 in a class of machine and half a person are added, however few the joints."""
    found = priced_ladder("between centers", dr=11, segments_m=40 * (joints + 1))
    said = [one.message for one in found.warnings if "fusion rises" in one.message]
    (words,) = (text for text in said if "From 24 to 30 in IPS" in text)
    assert "a joint (its own minutes only: one size has under 10): machine class M6 is" in words
    assert all("besides" not in text for text in said)


def test_like_pipe_alone_is_said_to_fall():
    """12 in with thin walls costs less than 10 in with thick ones: that is no like pipe."""
    rows = [run("A", size="10", dr=7.3, segments_m=(900.0,)),
            run("B", size="12", dr=26.0, segments_m=(900.0,))]  # fmt: skip
    assert not [one for one in estimate(job(*rows)).warnings if "fusion falls" in one.message]


def jumps(crew, fleet):
    """Return what is said of 12 and 14 in, where a band ends; 24 in is no neighbor of them."""
    runs = [run(f"R{size}", size=size, segments_m=(600.0,)) for size in ("12", "14", "24")]
    made = job(*runs, machines=fleet, band_times="steps").model_copy(update={"crew": crew})
    return [one.message for one in estimate(made).warnings if "fusion rises" in one.message]


def test_a_jump_in_the_cost_of_a_joint_is_named_with_what_is_added():
    """One operator and 1.5 laborers, from 14 in on 5: 3.5 people more."""
    operator, laborer = role("Operator", 1, 38), role("Laborer", 1.5, 27)
    more = laborer.model_copy(update={"heads_c": 5.0})
    small, wide = (
        machine("M2", od_min_mm=60.0, od_max_mm=330.0),
        machine("M9", od_min_mm=60.0, od_max_mm=900.0),
    )
    (said,) = jumps((operator, more), (small, wide))
    assert said.startswith("From 12 to 14 in IPS fusion rises from $")
    assert "a joint: machine class M9 is added, 3.5 more people a crew" in said
    (said,) = jumps((operator, laborer), (wide,))
    assert "min more for the joint itself (Task times, the wall)" in said
    assert "class" not in said
    assert "people" not in said


def test_a_workbook_without_the_choice_keeps_the_steps():
    factory = WorkbookFactory()
    assert parse_workbook(factory.build()).job.shift.band_times == "between centers"
    (choice,) = (field for field in fields("job") if field.key == "band_times")
    assert value_if_absent(choice, "US") == value_if_absent(choice, "SI") == "steps"
    assert job(run()).shift.band_times == "steps"


MONDAY, TUESDAY = dt.date(2027, 3, 1), dt.date(2027, 3, 2)


def worked(date, **minutes):
    return CrewDay(date=date, crew=1, kind="work", heads=(2.0,), straight_hours=8.0,
                   overtime_hours=2.0, run_minutes=tuple(minutes.items()))  # fmt: skip


def test_a_change_of_machine_is_charged_to_all_runs_of_its_class_by_hand():
    """Monday: A 300 min; then 100 min for the change and 100 of B. Tuesday: B 200, C 300.

    20 labor-hours a day: A 12, B 8 + 8, C 12. The change is 4 of B's; B and C have 300 min each on
    the class, so 2 each: B 14, C 14.
    """
    lines = (
        PlanLine(MONDAY, 1, "A", "M2", minutes=300.0),
        PlanLine(MONDAY, 1, "B", "M4", moves=("machine change-out",), minutes=200.0,
                 moved_min=(100.0,)),
        PlanLine(TUESDAY, 1, "B", "M4", minutes=200.0),
        PlanLine(TUESDAY, 1, "C", "M4", minutes=300.0),
    )  # fmt: skip
    days = worked(MONDAY, A=300.0, B=200.0), worked(TUESDAY, B=200.0, C=300.0)
    plan = Plan(lines=lines, crew_days=days)
    assert HoursByRun.labor(plan).all() == pytest.approx({"A": 12.0, "B": 14.0, "C": 14.0})
    assert HoursByRun.crew(plan).all() == pytest.approx({"A": 6.0, "B": 7.0, "C": 7.0})


def test_a_change_that_goes_on_the_next_day_is_one_change_by_hand():
    """Monday: A 400 min, 100 min of the change. Tuesday: 100 more of it, B 200, C 200.

    20 labor-hours a day: A 16, B 4 + 12, C 8. The change is 4 on Monday and 4 on Tuesday; B and C
    have 200 min each on the class, so 4 each: B 16 - 8 + 4, C 8 + 4.
    """
    lines = (
        PlanLine(MONDAY, 1, "A", "M2", minutes=400.0),
        PlanLine(MONDAY, 1, "B", "M4", moves=("machine change-out",), minutes=100.0,
                 moved_min=(100.0,)),
        PlanLine(TUESDAY, 1, "B", "M4", moves=("machine change-out (continued)",), minutes=300.0,
                 moved_min=(100.0,)),
        PlanLine(TUESDAY, 1, "C", "M4", minutes=200.0),
    )  # fmt: skip
    days = worked(MONDAY, A=400.0, B=100.0), worked(TUESDAY, B=300.0, C=200.0)
    plan = Plan(lines=lines, crew_days=days)
    assert HoursByRun.labor(plan).all() == pytest.approx({"A": 16.0, "B": 12.0, "C": 12.0})


def test_like_runs_of_a_class_cost_the_same_whichever_comes_first():
    """Two like runs of 12 in after one of 8 in: before, the first carried the change alone."""
    runs = (run("A", size="8", segments_m=(120.0,), machine="M2"),
            run("B", size="12", segments_m=(240.0,), machine="M4"),
            run("C", size="12", segments_m=(240.0,), machine="M4"))  # fmt: skip
    from tests.jobs import machine

    made = job(*runs, machine_swap_min=240.0, machine_move_min=0.0, test_joint_rule="none",
               rework_share=0.0).model_copy(
        update={"machines": (machine("M2", od_max_mm=230.0), machine("M4"))}
    )  # fmt: skip
    found = estimate(made)
    hours = found.labor_hours
    assert sum(hours.values()) == pytest.approx(found.total_labor_hours)
    assert hours["B"] == pytest.approx(hours["C"], rel=0.12)
