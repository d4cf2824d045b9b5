"""Diameters, walls and weights against published tables and a reference library."""

import math
import re

import pytest
from fluids import piping
from hypothesis import given
from hypothesis import strategies as st

from estimator.errors import EstimatorError, InputError, OutsideStandardError, UnknownNameError
from estimator.joint import geometry
from estimator.standards import tables
from estimator.units import IN_MM, from_si
from estimator.workbook.read.file_source import FileSource
from estimator.workbook.read.parse import parse_job
from tests.data import read_cases
from tests.each import each
from tests.workbook_factory import WorkbookFactory

OD_CASES = read_cases("published/astm_awwa_iso_outside_diameters")
INCH_CASES = [
    *read_cases("published/astm_d3035_f714_minimum_walls"), *read_cases("arithmetic/inch_walls")
]  # fmt: skip
ISO_CASES = read_cases("published/iso_4065_minimum_walls")
WEIGHT_CASES = read_cases("arithmetic/pipe_weights")
DERIVED_CASES = read_cases("arithmetic/derived_process_times")
SYSTEMS = ("IPS", "DIPS", "CTS", "ISO")
SERIES = (6, 7.4, 9, 11, 13.6, 17, 17.6, 21, 26, 33, 41)

systems_and_sizes = st.sampled_from(
    [(system, size) for system in SYSTEMS for size in geometry.list_sizes(system)]
)
inch_sizes = systems_and_sizes.filter(lambda pair: pair[0] != "ISO")
ratios = st.floats(5, 50).map(lambda dr: round(dr, 1))


def case_id(case):
    keys = ("basis", "nominal_size", "dn_mm", "dr", "sdr", "dr_or_sdr")
    return " ".join(case[key] for key in keys if key in case)


def nps_label(nps):
    whole, part = divmod(nps, 1)
    fraction = {0: "", 0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}[part]
    return "-".join(text for text in (str(int(whole)) if whole else "", fraction) if text)


# Outside diameters


@each("case", OD_CASES, ids=case_id)
def test_pipe_od_mm_matches_published_table(case):
    od_mm = geometry.pipe_od_mm(case["basis"], case["nominal_size"])
    assert od_mm == pytest.approx(float(case["od_mm"]), abs=0.0051)
    assert from_si(od_mm, "in") == pytest.approx(float(case["od_in"]), abs=0.00051)


def test_list_sizes_is_the_published_list():
    for system in SYSTEMS:
        basis = "ISO metric" if system == "ISO" else system
        printed = {c["nominal_size"].removeprefix("dn ") for c in OD_CASES if c["basis"] == basis}
        listed = set(geometry.list_sizes(basis))
        remembered = {
            row["nominal_size"]
            for row in tables.find_rows("pipe_od", od_system=system, confidence="from memory")
        }
        assert printed <= listed
        assert listed - printed <= remembered


@each(
    ("nps", "od_mm"),
    sorted(
        {
            *zip(piping.NPS5, piping.S5o, strict=True),
            *zip(piping.NPS10, piping.S10o, strict=True),
        }
    ),
)
def test_ips_diameters_match_asme_b36_10m_in_fluids(nps, od_mm):
    if nps < 0.5:
        with pytest.raises(UnknownNameError, match="IPS size"):
            geometry.pipe_od_mm("IPS", nps)
        return
    printed_to = 0.0501 if od_mm % 1 or nps < 16 else 0.5
    assert geometry.pipe_od_mm("IPS", nps_label(nps)) == pytest.approx(od_mm, abs=printed_to)


@each(("nps", "od_mm"), list(zip(piping.NPS_F2619, piping.o_F2619IPS, strict=True)))
def test_ips_diameters_match_astm_f2619_in_fluids(nps, od_mm):
    # F2619 prints 63 in as 63.000; the AWWA value 62.992 is used here, a known disagreement.
    tolerance = 0.21 if nps == 63 else 0.0005
    assert geometry.pipe_od_mm("IPS", nps_label(nps)) == pytest.approx(od_mm, abs=tolerance)


@each(("nps", "od_mm"), list(zip(piping.NPSCIDR41_C905, piping.SCIDR41o_C905, strict=True)))
def test_dips_diameters_match_ductile_iron_sizes_in_fluids(nps, od_mm):
    assert geometry.pipe_od_mm("DIPS", nps_label(nps)) == pytest.approx(od_mm, abs=0.051)


@each(("nps", "od_mm"), list(zip(piping.NPSDR11_D2241CTS, piping.SDR11o_D2241CTS, strict=True)))
def test_cts_diameters_match_copper_tube_sizes_in_fluids(nps, od_mm):
    assert geometry.pipe_od_mm("CTS", nps_label(nps)) == pytest.approx(od_mm, abs=0.0005)


@pytest.mark.parametrize(
    ("system", "size", "same_as"),
    [
        ("ips", '24"', "24"),
        ("IPS", "24 in", "24"),
        ("IPS", "24.0", "24"),
        ("IPS", 24, "24"),
        ("IPS", " 1 1/4 ", "1-1/4"),
        ("IPS", "1.25", "1-1/4"),
        ("IPS", "0.5 in.", "1/2"),
        ("iso metric", "dn 110", "110"),
        ("ISO", "DN110", "110"),
        ("Metric", "110 mm", "110"),
        ("dips", "8 inch", "8"),
    ],
)
def test_pipe_od_mm_reads_sizes_as_people_write_them(system, size, same_as):
    assert geometry.pipe_od_mm(system, size) == geometry.pipe_od_mm(system, same_as)


@pytest.mark.parametrize(
    ("system", "size"),
    [
        ("IPS", "9"),
        ("IPS", "110 mm"),
        ("IPS", "dn 24"),
        ("ISO", "110 in"),
        ("ISO", "111"),
        ("IPS", ""),
        ("IPS", "1/0"),
        ("IPS", "eight"),
        ("CTS", "-2"),
    ],
)
def test_pipe_od_mm_refuses_a_size_not_listed(system, size):
    with pytest.raises(UnknownNameError, match=rf"{system} size \[.*\] '.*' is not recognized"):
        geometry.pipe_od_mm(system, size)


def test_an_unknown_system_is_refused():
    with pytest.raises(
        UnknownNameError, match=r"OD system 'JIS' is not recognized.* IPS, DIPS, CTS, ISO, OD"
    ):
        geometry.list_sizes("JIS")


# Dimension ratio


@pytest.mark.parametrize(
    ("text", "ratio"),
    [
        ("DR 11", 11.0),
        ("dr32.5", 32.5),
        ("SDR17", 17.0),
        ("SDR-17.6", 17.6),
        ("17", 17.0),
        (13.5, 13.5),
        (11, 11.0),
    ],
)
def test_parse_dr_reads_ratios(text, ratio):
    assert geometry.parse_dr(text) == ratio


@each("row", tables.load("metric_series"), ids=lambda r: f"S{r['s_nominal']}")
def test_parse_dr_turns_a_pipe_series_into_its_ratio(row):
    assert geometry.parse_dr(f"S {row['s_nominal']:g}") == row["sdr"]


@pytest.mark.parametrize("text", ["PN 10", "PN16", "class 160", "PC 200", "PR-125"])
def test_parse_dr_refuses_a_pressure_class_with_the_reason(text):
    with pytest.raises(
        EstimatorError, match=f"'{text}' is not .*; a pressure class does not give the wall"
    ):
        geometry.parse_dr(text)


@pytest.mark.parametrize("text", ["", "thick", "DR", "-11", "11/2", "DR 11 x", math.nan, math.inf])
def test_parse_dr_refuses_other_text(text):
    with pytest.raises(
        EstimatorError, match=r"is not a dimension ratio. Enter DR 11, SDR 17, 17 or S 8$"
    ):
        geometry.parse_dr(text)


# Walls


@each("case", INCH_CASES, ids=case_id)
def test_inch_walls_match_astm_tables(case):
    wall_mm = geometry.min_wall_mm(case["basis"], case["nominal_size"], float(case["dr"]))
    assert from_si(wall_mm, "in") == pytest.approx(float(case["min_wall_in"]), abs=1e-9)


F2619_WALLS = [
    pytest.param(nps, dr, wall_mm, id=f"{nps:g} DR {dr}")
    for dr, suffix in [
        (7, "7"),
        (7.3, "73"),
        (9, "9"),
        (11, "11"),
        (13.5, "135"),
        (17, "17"),
        (21, "21"),
        (26, "26"),
        (32.5, "325"),
    ]
    for nps, wall_mm in zip(
        getattr(piping, f"NPSDR{suffix}_F2619"),
        getattr(piping, f"SDR{suffix}t_F2619IPS"),
        strict=True,
    )
]


@each(("nps", "dr", "wall_mm"), F2619_WALLS)
def test_ips_walls_match_astm_f2619_in_fluids(nps, dr, wall_mm):
    ours_in = from_si(geometry.min_wall_mm("IPS", nps_label(nps), dr), "in")
    assert ours_in == pytest.approx(wall_mm / IN_MM, abs=0.00051)


ISO_DISPUTED = [c for c in ISO_CASES if c["note"].startswith("DISAGREEMENT")]
ISO_AGREED = [c for c in ISO_CASES if c["rule_matches"] == "yes" and c not in ISO_DISPUTED]


@each("case", ISO_AGREED, ids=case_id)
def test_metric_walls_match_published_tables(case):
    wall_mm = geometry.min_wall_mm("ISO", case["dn_mm"], float(case["sdr"]))
    assert wall_mm == pytest.approx(float(case["e_n_min_mm"]), abs=1e-9)


@each("case", [c for c in ISO_CASES if c["rule_matches"] == "no"], ids=case_id)
def test_metric_walls_that_disagree_take_the_thicker(case):
    # dn 20 to 40: ISO 4427-2 lifts thin walls to 2.0 mm above the rule.
    # dn 1000 and 1200: one published table differs from the rule either way; the thicker wall
    # is heavier, slower and asks for more force, so the estimate errs to the high side.
    thicker = max(float(case["e_n_min_mm"]), float(case["rule_value_mm"]))
    wall_mm = geometry.min_wall_mm("ISO", case["dn_mm"], float(case["sdr"]))
    assert wall_mm == pytest.approx(thicker, abs=1e-9)


@pytest.mark.parametrize(
    ("dn", "sdr", "wall_mm"),
    [(16, 6, 3.0), (16, 7.4, 2.3), (20, 7.4, 3.0), (25, 9, 3.0), (32, 11, 3.0), (32, 13.6, 2.4)],
)
def test_small_metric_walls_are_lifted_as_in_iso_4427_2(dn, sdr, wall_mm):
    # ISO 4427-2 / EN 12201-2 small sizes, from memory; the last one is not lifted.
    assert geometry.min_wall_mm("ISO", dn, sdr) == wall_mm


def test_a_metric_wall_too_thin_to_be_listed_is_refused():
    with pytest.raises(OutsideStandardError, match=r"metric wall \[mm\] is .*\(1.8 or more"):
        geometry.min_wall_mm("ISO", "63", 41)


@pytest.mark.parametrize("dr", [4.9, 50.1, 0.0, -11.0, math.nan, math.inf])
def test_min_wall_mm_refuses_a_ratio_outside_the_range(dr):
    with pytest.raises(OutsideStandardError, match=r"dimension ratio is .*\(5 to 50;"):
        geometry.min_wall_mm("IPS", "8", dr)


def test_a_metric_ratio_in_no_series_is_taken_as_it_stands():
    # dn 110 / DR 10 = 11.0 mm by plain division.
    assert geometry.min_wall_mm("ISO", "110", 10) == pytest.approx(11.0, abs=1e-9)
    (source,) = (
        source
        for source in geometry.pipe_geometry("ISO", "110", 10.0, "PE100").sources
        if source.figure == "wall_mm"
    )
    assert "in no series" in source.text


@given(inch_sizes, ratios, ratios)
def test_a_larger_ratio_never_makes_an_inch_wall_thicker(pair, one, other):
    thin, thick = max(one, other), min(one, other)
    assert geometry.min_wall_mm(*pair, thin) <= geometry.min_wall_mm(*pair, thick)


@given(st.sampled_from(geometry.list_sizes("ISO")[6:]), st.sampled_from(SERIES[:-1]))
def test_a_larger_series_ratio_always_makes_a_metric_wall_thinner(size, sdr):
    thinner = SERIES[SERIES.index(sdr) + 1]
    if (size, thinner) != ("63", 41):
        assert geometry.min_wall_mm("ISO", size, thinner) < geometry.min_wall_mm("ISO", size, sdr)


@each("case", read_cases("arithmetic/metric_walls"), ids=case_id)
def test_metric_walls_that_no_page_shows_follow_the_rule_by_our_own_arithmetic(case):
    wall_mm = geometry.min_wall_mm("ISO", case["dn_mm"], float(case["sdr"]))
    assert wall_mm == pytest.approx(float(case["e_n_min_mm"]), abs=1e-9)


@each("case", ISO_DISPUTED, ids=case_id)
def test_metric_walls_on_which_pages_disagree_take_the_thicker(case):
    # The note reads "DISAGREEMENT between pages: 33.2 / 33.3".
    printed = [float(number) for number in re.findall(r"\d+\.\d(?= /|;|$)", case["note"])[:2]]
    assert len(printed) == 2
    wall_mm = geometry.min_wall_mm("ISO", case["dn_mm"], float(case["sdr"]))
    assert wall_mm == max(printed)


@each("case", read_cases("published/ms_1058_minimum_walls"), ids=case_id)
def test_metric_walls_match_ms_1058(case):
    # MS 1058-2:2005, another national edition of ISO 4427, as printed on a public page.
    # 500 mm SDR 17 is printed 27.7 beside a greatest wall of 32.8: a slip for 29.7.
    printed = "29.7" if (case["dn_mm"], case["sdr"]) == ("500", "17") else case["wall_mm"]
    wall_mm = geometry.min_wall_mm("ISO", case["dn_mm"], float(case["sdr"]))
    assert wall_mm == pytest.approx(float(printed), abs=1e-9)
    assert wall_mm < float(case["wall_max_mm"])


DIN_CASES = read_cases("published/din_8074_walls_and_masses")
DIN_THIN = [c for c in DIN_CASES if float(c["wall_mm"]) < 2.0]


@each("case", [c for c in DIN_CASES if c not in DIN_THIN], ids=case_id)
def test_metric_walls_and_masses_match_din_8074(case):
    # DIN 8074, table of walls and masses as printed on a public page. Two masses of SDR 41 are
    # 0.2 to 0.5 % above the rule that all others follow to the last digit.
    pipe = geometry.pipe_geometry("ISO", case["dn_mm"], float(case["sdr"]), "PE100")
    assert pipe.wall_mm == pytest.approx(float(case["wall_mm"]), abs=1e-9)
    printed = case["mass_kg_m"]
    rel = 0.005 if (case["dn_mm"], case["sdr"]) in {("90", "41"), ("180", "41")} else 0.0
    half_digit = 0.505 * 10 ** -len(printed.partition(".")[2])
    assert pipe.weight_kg_m == pytest.approx(float(printed), abs=half_digit, rel=rel)


@each("case", DIN_THIN, ids=case_id)
def test_thinnest_walls_of_din_8074_are_lifted_or_refused(case):
    # DIN 8074 goes down to 1.8 mm; ISO 4427-2 lifts to 2.0 mm and lists nothing thinner.
    ask = ("ISO", case["dn_mm"], float(case["sdr"]))
    if case["wall_mm"] == "1.8":
        with pytest.raises(OutsideStandardError, match=r"metric wall \[mm\] is .*\(1.8 or more"):
            geometry.min_wall_mm(*ask)
    else:
        assert geometry.min_wall_mm(*ask) == 2.0


# A diameter given as a number


@pytest.mark.parametrize(
    ("size", "dr", "od_mm", "wall_mm"),
    [
        # By hand: 13.2 / 17 = 0.77647, to 0.001 in 0.776; 335 / 17 = 19.706, up to 19.8 mm.
        ("13.2 in", 17, 13.2 * IN_MM, 0.776 * IN_MM),
        ('13-1/5"', 17, 13.2 * IN_MM, 0.776 * IN_MM),
        ("335 mm", 17, 335.0, 19.8),
        # 374 / 11 = 34 with nothing to round; 1441 / 11 = 131.
        ("374mm", 11, 374.0, 34.0),
        ("1441 mm", 11, 1441.0, 131.0),
        ("8.625 in.", 11, 219.075, 0.784 * IN_MM),
    ],
)
@pytest.mark.parametrize("system", ["OD", "custom", "Custom"])
def test_a_diameter_given_as_a_number_has_the_wall_of_its_unit(system, size, dr, od_mm, wall_mm):
    pipe = geometry.pipe_geometry(system, size, float(dr), "PE100")
    assert pipe.od_mm == pytest.approx(od_mm, abs=1e-9)
    assert pipe.wall_mm == pytest.approx(wall_mm, abs=1e-9)
    assert pipe.od_system == "OD"
    assert {s.confidence for s in pipe.sources} == {"assumption"}
    assert geometry.pipe_od_mm(pipe.od_system, pipe.size) == pipe.od_mm


@pytest.mark.parametrize("size", ["335", 335, 13.2, "dn 335 mm", "335 cm", "wide", "", "1/0 in"])
def test_a_diameter_without_its_unit_is_refused_with_a_hint(size):
    with pytest.raises(
        EstimatorError,
        match=r"is not an outside diameter\. Enter 5 to 3000 mm, .*such as 13\.2 in",
    ):
        geometry.pipe_od_mm("OD", size)


@pytest.mark.parametrize("size", ["4.9 mm", "3001 mm", "0.1 in", "119 in"])
def test_a_diameter_that_cannot_be_is_refused(size):
    with pytest.raises(OutsideStandardError, match=r"outside diameter \[mm\] is .*\(5 to 3000"):
        geometry.pipe_od_mm("OD", size)


def test_a_wall_too_thin_to_fuse_is_refused():
    with pytest.raises(OutsideStandardError, match=r"wall thickness \[mm\] is .*\(1 or more"):
        geometry.min_wall_mm("OD", "20 mm", 50)


def test_system_od_lists_no_sizes():
    assert geometry.list_sizes("OD") == ()
    assert geometry.system_names() == (*SYSTEMS, "OD")


@given(st.sampled_from(geometry.list_sizes("IPS")[1:]), st.sampled_from((7, 9, 11, 13.5, 17, 21)))
def test_inch_pipe_given_by_its_diameter_is_the_same_pipe(size, dr):
    listed = geometry.pipe_geometry("IPS", size, float(dr), "PE4710")
    given_as = f"{from_si(listed.od_mm, 'in'):.6g} in"
    same = geometry.pipe_geometry("OD", given_as, float(dr), "PE4710")
    for name in ("od_mm", "wall_mm", "mean_wall_mm", "id_mm", "weight_kg_m"):
        assert getattr(same, name) == pytest.approx(getattr(listed, name), rel=1e-9)


@given(st.floats(100, 2900).map(lambda od: round(od, 1)), ratios)
def test_wall_of_a_metric_diameter_is_the_least_tenth_that_holds_the_ratio(od_mm, dr):
    wall = geometry.min_wall_mm("OD", f"{od_mm} mm", dr)
    assert wall >= od_mm / dr - 1e-9
    assert wall - 0.1 < od_mm / dr + 1e-9
    assert round(wall, 1) == pytest.approx(wall, abs=1e-9)


def read_workbook(factory):
    return parse_job(FileSource(factory.build())).job


def test_a_workbook_takes_a_diameter_with_its_unit():
    factory = WorkbookFactory()
    factory.set("schedule", "od_system", "od").set("schedule", "size", "13.2 in")
    factory.set("schedule", "reduce_to", "219.075 mm")
    run = read_workbook(factory).runs[0]
    assert (run.od_system, run.size, run.reduce_to) == ("OD", "13.2 in", "219.075 mm")


@pytest.mark.parametrize("size", [13.2, "13.2", "13.2 cm"])
def test_a_workbook_refuses_a_diameter_without_its_unit(size):
    factory = WorkbookFactory()
    factory.set("schedule", "od_system", "OD").set("schedule", "size", size)
    factory.set("schedule", "reducers", None).set("schedule", "reduce_to", None)
    with pytest.raises(InputError, match=r"with its unit, such as 13\.2 in or 335 mm") as raised:
        read_workbook(factory)
    assert [p.where for p in raised.value.problems] == [factory.where("schedule", "size")]


def test_a_workbook_refuses_a_reducer_that_does_not_reduce_a_given_diameter():
    factory = WorkbookFactory()
    factory.set("schedule", "od_system", "OD").set("schedule", "size", "335 mm")
    factory.set("schedule", "reduce_to", "13.2 in")
    with pytest.raises(InputError, match="is not smaller than the run's 335 mm"):
        read_workbook(factory)


# Mean wall, weight, area


@each("case", WEIGHT_CASES, ids=case_id)
def test_weights_match_our_own_table(case):
    pipe = geometry.pipe_geometry(
        case["basis"], case["nominal_size"], float(case["dr_or_sdr"]), "PE100"
    )
    assert from_si(pipe.od_mm, "in") == pytest.approx(float(case["od_in"]), abs=0.00051)
    assert from_si(pipe.wall_mm, "in") == pytest.approx(float(case["min_wall_in"]), abs=0.00051)
    assert from_si(pipe.mean_wall_mm, "in") == pytest.approx(
        float(case["mean_wall_in"]), abs=0.00051
    )
    assert from_si(pipe.id_mm, "in") == pytest.approx(float(case["mean_id_in"]), abs=0.00051)
    weight = from_si(pipe.weight_kg_m, case["unit"])
    assert weight == pytest.approx(float(case["computed_weight"]), abs=0.00051)


def test_mean_wall_mm_is_that_of_the_whole_geometry():
    pipe = geometry.pipe_geometry("DIPS", "24", 17.0, "PE4710")
    assert geometry.mean_wall_mm("DIPS", "24", 17.0) == pipe.mean_wall_mm
    # ASTM F714 method: made between the minimum wall and 12 % above it, 1.06 in the mean.
    assert pipe.mean_wall_mm == pytest.approx((1.00 + 1.12) / 2 * pipe.wall_mm, rel=1e-12)


@each("case", DERIVED_CASES, ids=lambda c: f"{c['size']} DR {c['DR']}")
def test_walls_match_the_derived_check_table(case):
    system, size = reversed(case["size"].split())
    wall_mm = geometry.min_wall_mm(system, size, float(case["DR"]))
    assert from_si(wall_mm, "in") == pytest.approx(float(case["wall_in"]), abs=0.00051)
    # There mm come from OD / DR before rounding to 0.001 in (0.0127 mm), printed to 0.1 mm.
    assert wall_mm == pytest.approx(float(case["wall_mm"]), abs=0.05 + 0.0128)
    # Weight there rests on the minimum wall, printed to 0.1 lb/ft (0.1 % for the wall's rounding).
    area_mm2 = geometry.joint_area_mm2(geometry.pipe_od_mm(system, size), wall_mm)
    weight = from_si(area_mm2 * 0.955 * 0.001, "lb/ft")
    printed = float(case["weight_lb_ft_min_wall"])
    assert weight == pytest.approx(printed, abs=0.0501 + 0.001 * printed)


def test_joint_area_mm2_matches_a_printed_fusion_area():
    # A manual prints 69 934 for 500 mm x 45.5 mm, a misprint: its own formula gives 64 967.
    assert geometry.joint_area_mm2(500.0, 45.5) == pytest.approx(64967, abs=0.5)


@pytest.mark.parametrize(("od_mm", "wall_mm"), [(100.0, 50.1), (100.0, -1.0), (100.0, math.nan)])
def test_joint_area_mm2_refuses_a_wall_that_does_not_fit(od_mm, wall_mm):
    with pytest.raises(OutsideStandardError, match=r"wall \[mm\] is .*, .*\(0 to 50"):
        geometry.joint_area_mm2(od_mm, wall_mm)


@given(st.floats(20, 2500), st.floats(0.001, 0.5), st.floats(0.001, 0.5))
def test_a_thicker_wall_has_a_larger_joint(od_mm, one, other):
    thin, thick = sorted((one * od_mm, other * od_mm))
    small, large = (geometry.joint_area_mm2(od_mm, wall) for wall in (thin, thick))
    assert small <= large * (1 + 1e-12)
    assert large <= math.pi * od_mm**2 / 4 * (1 + 1e-12)


@given(systems_and_sizes, st.sampled_from(SERIES), st.sampled_from(["PE4710", "PE100", "PE80"]))
def test_pipe_geometry_hangs_together(pair, dr, material):
    try:
        pipe = geometry.pipe_geometry(*pair, float(dr), material)
    except OutsideStandardError as error:
        assert error.name.startswith("calculated metric wall")  # noqa: PT017
        return
    assert 0 < pipe.wall_mm < pipe.mean_wall_mm < pipe.od_mm / 2
    assert pipe.id_mm == pytest.approx(pipe.od_mm - 2 * pipe.mean_wall_mm, abs=1e-9)
    ring_mm2 = math.pi / 4 * (pipe.od_mm**2 - pipe.id_mm**2)
    assert 0.94 < pipe.weight_kg_m / ring_mm2 * 1000 < 0.96
    assert {s.figure for s in pipe.sources} == {"od_mm", "wall_mm", "mean_wall_mm", "weight_kg_m"}


def test_pipe_geometry_names_size_and_system_as_the_tables_do():
    pipe = geometry.pipe_geometry("iso metric", "dn 110", 11.0, "PE100")
    assert (pipe.od_system, pipe.size, pipe.dr) == ("ISO", "110", 11.0)


def test_pipe_geometry_shows_a_doubt_about_the_diameter():
    (source,) = (
        s
        for s in geometry.pipe_geometry("IPS", "63", 26.0, "PE4710").sources
        if s.figure == "od_mm"
    )
    assert source.confidence == "from memory"
    assert "63.000" in source.text


def test_pipe_geometry_refuses_an_unknown_material():
    with pytest.raises(UnknownNameError, match=r"material 'PVC' is not recognized.* PE4710"):
        geometry.pipe_geometry("IPS", "8", 11.0, "PVC")
