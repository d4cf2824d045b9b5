"""Every row of every table: sourced, described, in range, without gaps."""

import datetime as dt
import math
import subprocess
import sys
from importlib import resources
from itertools import groupby, pairwise
from pathlib import Path

import pytest

from estimator.cli import joint
from estimator.errors import EstimatorError, OutsideStandardError, UnknownNameError
from estimator.inputs.dictionary import fields
from estimator.joint.fusion import METHODS
from estimator.joint.geometry import min_wall_mm, system_names
from estimator.standards import tables
from estimator.standards.citing import cite
from estimator.standards.pipe_walls import series_ratio, wall_by_metric_rule
from estimator.units import GAL_L, IN_MM
from tests.data import read_cases
from tests.each import each

NAMES = tables.table_names()
DATA = [name for name in NAMES if name != tables.SOURCES]
BANDED = {
    "f2620_bead": ("od_from_in", "od_to_in", ()),
    "f2620_removal": ("wall_from_in", "wall_to_in", ("place",)),
    "iso21307_formulas": ("wall_from_mm", "wall_to_mm", ("method", "figure")),
    "dvs2207_joining": ("wall_from_mm", "wall_to_mm", ()),
    "dvs2207_cooling": ("wall_from_mm", "wall_to_mm", ()),
    "dvs2207_cooling_2005": ("wall_from_mm", "wall_to_mm", ()),
    "dvs2207_ambient": ("ambient_from_c", "ambient_to_c", ()),
}
NOT_BANDED = {
    "joining_rates": "several series side by side, with gaps where nothing was reported",
    "locked_rotor": "bands as printed, with a gap of one hundredth between them",
    "metric_wall_lifts": "steps of calculated walls; walls between them stay as they are",
}
REACH = {
    ("f2620_bead",): (0, 65),
    ("f2620_removal", "field"): (0.17, None),
    ("f2620_removal", "shop"): (0.17, None),
    ("dvs2207_joining",): (0, 130),
    ("dvs2207_cooling",): (0, 130),
    ("dvs2207_cooling_2005",): (0, 70),
    ("dvs2207_ambient",): (None, 40),
    **{
        ("iso21307_formulas", method, figure): (0, None)
        for method, figures in {
            "iso21307-slp": ("bead", "soak", "ramp", "cool", "rest"),
            "iso21307-dlp": ("bead", "soak", "open_close", "cool", "rest"),
            "iso21307-shp": ("bead", "soak", "open_close", "cool"),
        }.items()
        for figure in figures
    },
}
DVS_STEMS = {
    "dvs2207_joining": ("soak_{}_s", "changeover_{}_s", "ramp_{}_s"),
    "dvs2207_cooling": ("cold_{}_min", "mild_{}_min", "hot_{}_min"),
    "dvs2207_cooling_2005": ("any_{}_min",),
}


def bands(name):
    low, high, keys = BANDED[name]
    for _, rows in groupby(tables.load(name), key=lambda row: [row[key] for key in keys]):
        yield [(row[low], row[high], row) for row in rows]


def test_dictionary_describes_exactly_the_files_there_are():
    files = {
        entry.name.removesuffix(".csv")
        for entry in resources.files("estimator.standards").iterdir()
        if entry.name.endswith(".csv")
    }
    assert files == {*NAMES, tables.DICTIONARY}


@each("name", NAMES)
def test_every_column_is_described(name):
    assert tables.load(name)
    described = tables.columns(name)
    assert all(column.description for column in described)
    assert all(tuple(row) == tuple(c.name for c in described) for row in tables.load(name))


@each("name", DATA)
def test_every_row_has_a_known_source_clause_and_confidence(name):
    for row in tables.load(name):
        assert row["source"] in tables.sources(), row
        assert row["clause"], row
        assert row["confidence"] in tables.CONFIDENCES, row


def test_every_source_says_how_and_when_it_was_read_and_what_would_confirm_it():
    for row in tables.sources().values():
        assert dt.date.fromisoformat(row["read_by"]) <= dt.date(2100, 1, 1)
        assert row["how_read"], row
        assert row["would_confirm"], row
    remembered = {row["source"] for name in DATA for row in tables.find_rows(name)
                  if row["confidence"] == "from memory"}  # fmt: skip
    for key in remembered:
        assert "memory" in tables.sources()[key]["how_read"] or key == "pe_data", key


PUBLISHED = read_cases("published/sources")


def test_every_published_file_names_its_source_and_none_rests_on_memory():
    folder = Path(__file__).parent / "data" / "published"
    files = {path.stem for path in folder.glob("*.csv")} - {"sources"}
    assert {row["file"] for row in PUBLISHED} == files
    for row in PUBLISHED:
        need = ("publication", "edition", "clause", "how_read", "read_by", "standing")
        assert all(row[name] for name in need), row
    for name in files:
        for case in read_cases(f"published/{name}"):
            assert "memory" not in case.get("confidence", ""), (name, case)
            assert "computed" not in case.get("confidence", ""), (name, case)


def test_every_joining_rate_has_a_source():
    known = {row["key"] for row in PUBLISHED if row["file"] == "joining_rates"}
    assert {case["source"] for case in read_cases("published/joining_rates")} == known


def test_every_source_is_cited():
    cited = {row["source"] for name in DATA for row in tables.load(name)}
    assert cited == set(tables.sources())


def test_every_figure_of_our_own_is_labeled_an_assumption():
    for name in DATA:
        for row in tables.find_rows(name, source="project"):
            assert row["confidence"] == "assumption", row


@each("name", NAMES)
def test_no_row_is_given_twice(name):
    rows = [tuple(row.values()) for row in tables.load(name)]
    assert len(rows) == len(set(rows))


@pytest.mark.parametrize("name", BANDED)
def test_banded_tables_rise_without_gap_or_overlap(name):
    for rows in bands(name):
        for low, high, row in rows[:-1]:
            assert low is None or low < high, row
        for (_, high, row), (low, _, _) in pairwise(rows):
            assert high == low, row


def test_every_table_of_ranges_is_proved_whole():
    ranged = {
        name for name in DATA if any("_from" in column.name for column in tables.columns(name))
    }
    assert ranged == {*BANDED, *NOT_BANDED}


def test_tables_reach_as_far_as_their_standards_do():
    found = {}
    for name, (_, _, keys) in BANDED.items():
        for rows in bands(name):
            group = (name, *(rows[0][2][key] for key in keys))
            found[group] = (rows[0][0], rows[-1][1])
    assert found == REACH


def test_formulas_of_iso_21307_join_and_never_fall():
    def value(row, wall_mm):
        return row["constant"] + row["per_wall"] * wall_mm + row["per_wall_squared"] * wall_mm**2

    for rows in bands("iso21307_formulas"):
        for low, high, row in rows:
            top = high or 200.0
            walls = [low + (top - low) * n / 50 for n in range(51)]
            assert all(value(row, a) <= value(row, b) + 1e-9 for a, b in pairwise(walls)), row
        for (_, edge, row), (_, _, after) in pairwise(rows):
            assert value(row, edge) == pytest.approx(value(after, edge), abs=0.001), row


@pytest.mark.parametrize("name", ["method_values", "limits", "densities"])
def test_low_is_below_high(name):
    for row in tables.load(name):
        low, high = (next(row[k] for k in row if k.startswith(side)) for side in ("low", "high"))
        middle = row.get("nominal")
        assert low is None or high is None or low < high, row
        assert middle is None or low <= middle <= high, row


def test_lifted_walls_rise_and_do_not_overlap():
    rows = tables.load("metric_wall_lifts")
    for row in rows:
        assert row["calculated_from_mm"] <= row["calculated_to_mm"] < row["wall_mm"]
    assert all(a["wall_mm"] < b["calculated_from_mm"] for a, b in pairwise(rows))


def test_a_disputed_wall_is_never_the_thinner():
    for row in tables.load("metric_wall_disputed"):
        (series,) = tables.find_rows("metric_series", sdr=row["sdr"])
        ratio = series_ratio(series["s_exact"])
        by_rule = wall_by_metric_rule(row["dn_mm"], ratio, 0.01, 0.1)
        assert row["used_mm"] == max(row["published_mm"], by_rule)


@pytest.mark.parametrize(("size", "dr", "wall_mm"), [("900", 13.6, 66.2), ("800", 11.0, 72.6)])
def test_disputed_walls_of_800_and_900(size, dr, wall_mm):
    """A published table of 1000 mm and below prints 66.2 and 72.5; the rule gives 66.1, 72.6."""
    assert min_wall_mm("ISO", size, dr) == wall_mm


def test_customary_ratios_rise_and_metric_ones_are_of_the_series():
    for system, rows in groupby(tables.load("customary_ratios"), key=lambda r: r["od_system"]):
        ratios = [row["ratio"] for row in rows]
        assert ratios == sorted(set(ratios))
        if system == "ISO":
            assert set(ratios) <= {row["sdr"] for row in tables.load("metric_series")}


def test_shop_removal_is_never_shorter_than_in_the_field():
    keys = ("wall_from_in", "wall_to_in")
    for wall_in in (0.17, 0.2, 0.36, 0.5, 1.0, 1.18, 1.2, 2.5, 3.0, 4.5, 6.0):
        field, shop = (
            tables.band("f2620_removal", keys, wall_in, "wall [in]", place=place)["removal_s"]
            for place in ("field", "shop")
        )
        assert shop == (field if wall_in <= 1.18 else 2 * field)


def test_every_method_has_its_rows_and_every_list_of_methods_is_the_same():
    names = [method.value for method in METHODS]
    (field,) = (f for f in fields("job") if f.key == "method")
    assert list(field.allowed) == list(joint.METHODS) == names
    for name in names:
        items = [row["item"] for row in tables.find_rows("method_values", method=name)]
        assert sorted(items) == ["heater", "interfacial"]


def test_every_list_of_systems_is_the_same():
    (field,) = (f for f in fields("schedule") if f.key == "od_system")
    assert field.allowed == system_names()
    assert set(joint.SYSTEMS) == {*system_names(), "CUSTOM"}


@pytest.mark.parametrize(
    ("name", "column"), [("f2620_bead", "bead_in"), ("f2620_removal", "removal_s")]
)
def test_stepped_tables_never_fall(name, column):
    for rows in bands(name):
        assert all(a[2][column] <= b[2][column] for a, b in pairwise(rows))


@pytest.mark.parametrize("name", DVS_STEMS)
def test_dvs_rows_join_and_rise(name):
    rows = tables.load(name)
    for stem in DVS_STEMS[name]:
        low, high = stem.format("from"), stem.format("to")
        assert all(row[low] <= row[high] for row in rows)
        assert all(a[high] == b[low] for a, b in pairwise(rows))


def test_joining_rates_do_not_overlap_within_a_series():
    for _, rows in groupby(tables.load("joining_rates"), key=lambda row: row["series"]):
        listed = list(rows)
        assert all(row["od_from_mm"] < row["od_to_mm"] for row in listed)
        assert all(a["od_to_mm"] <= b["od_from_mm"] for a, b in pairwise(listed))
        assert all(row["rate_low"] <= row["rate_high"] for row in listed)


@pytest.mark.parametrize(
    ("series", "low", "high"),
    [
        ("laboratory one machine", [23, 17, 13, 10], [23, 17, 13, 10]),
        ("laboratory two machines", [45, 34, 25, 19], [45, 34, 25, 19]),
        ("practitioners", [20, 12, 8, 5], [25, 25, 20, 15]),
        ("remembered", [15, 10, 8, 6, 4, 3], [40, 24, 16, 15, 10, 6]),
    ],
)
def test_joining_rates_are_those_reported(series, low, high):
    # A trade report of about 2014 (first three series); ranges remembered in the trade (last).
    rows = tables.find_rows("joining_rates", series=series)
    assert [row["rate_low"] for row in rows] == low
    assert [row["rate_high"] for row in rows] == high


def test_inch_diameters_are_exact_multiples():
    for row in tables.load("pipe_od"):
        if row["od_system"] == "ISO":
            assert row["od_in"] is None
            assert row["od_mm"] == float(row["nominal_size"])
        else:
            assert row["od_mm"] == pytest.approx(row["od_in"] * IN_MM, abs=1e-9)


def test_diameters_rise_within_each_system():
    for _, rows in groupby(tables.load("pipe_od"), key=lambda row: row["od_system"]):
        assert all(a["od_mm"] < b["od_mm"] for a, b in pairwise(list(rows)))


def test_metric_series_are_preferred_numbers():
    # ISO 3: the R10 series is 10^(k/10). S 8.3 is no member; 25/3 fits the published walls.
    exact = {row["s_nominal"]: row["s_exact"] for row in tables.load("metric_series")}
    assert exact.pop(8.3) == pytest.approx(25 / 3, abs=1e-9)
    for k, (nominal, value) in enumerate(sorted(exact.items()), start=3):
        assert value == pytest.approx(10 ** (k / 10), abs=1e-9)
        assert nominal == pytest.approx(value, rel=0.02)


def test_nominal_ratio_belongs_to_nominal_series():
    for row in tables.load("metric_series"):
        assert row["sdr"] == pytest.approx(2 * row["s_nominal"] + 1, abs=1e-9)


@each("case", read_cases("published/nfpa_70_motor_currents"), ids=lambda c: c["hp"])
def test_motor_currents_match_the_transcribed_tables(case):
    row = tables.find_row("motor_current", "motor", case["hp"])
    columns = {
        "1ph_115": "single_115_v_a",
        "1ph_230": "single_230_v_a",
        "3ph_208": "three_208_v_a",
        "3ph_230": "three_230_v_a",
        "3ph_460": "three_460_v_a",
    }
    for printed, column in columns.items():
        assert row[column] == (None if case[printed] == "-" else float(case[printed]))


def test_motor_output_as_number_fits_its_text():
    for row in tables.load("motor_current"):
        parts = [part.split("/") for part in row["motor"].split("-")]
        value = sum(int(p[0]) / int(p[1]) if len(p) == 2 else int(p[0]) for p in parts)
        assert row["hp"] == value


@each("case", read_cases("published/diesel_set_fuel_gal_h"), ids=lambda c: c["kw"])
def test_diesel_fuel_matches_the_trade_chart(case):
    (row,) = tables.find_rows("diesel_fuel", rated_kw=float(case["kw"]))
    for load in ("quarter", "half", "three_quarter", "full"):
        if case[load] == "-":
            assert row[f"{load}_gal_h"] is row[f"{load}_l_h"] is None
            continue
        gallons = float(case[load])
        assert row[f"{load}_gal_h"] == gallons
        assert row[f"{load}_l_h"] == pytest.approx(gallons * GAL_L, abs=0.005)


def test_generator_derating_is_the_common_rule():
    # Two independent origins: 3 % per 500 m above 1000 m, 3 % per 5 C above 40 C.
    rules = {
        row["quantity"]: (row["above"], row["step"], row["loss_per_step"])
        for row in tables.load("generator_derating")
    }
    assert rules == {"elevation_m": (1000, 500, 0.03), "ambient_c": (40, 5, 0.03)}


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("elbow", (2, "yes", 0, 0, 0)),
        ("tee", (3, "yes", 0, 0, 0)),
        ("reducer", (2, "no", 0, 0, 0)),
        ("cap", (1, "no", 0, 0, 0)),
        ("flange_adapter", (1, "no", 0, 0, 1)),
        ("mj_adapter", (1, "no", 0, 0, 1)),
        ("branch_saddle", (0, "no", 0, 1, 0)),
        ("ef_closure", (0, "no", 2, 0, 0)),
    ],
)
def test_fitting_ends_follow_the_trade(kind, expected):
    row = tables.find_row("fitting_ends", "kind", kind)
    keys = ("butt_ends", "inline", "ef_ends", "saddles", "bolt_ups")
    assert tuple(row[key] for key in keys) == expected


def test_load_reads_once_and_cannot_be_changed():
    rows = tables.load("limits")
    assert tables.load("limits") is rows
    with pytest.raises(TypeError, match="does not support item assignment"):
        rows[0]["low"] = 0.0


def test_nothing_is_read_at_import():
    code = (
        "import estimator.joint.geometry, estimator.joint.fusion\n"
        "from estimator.standards import tables\n"
        "print(tables.load.cache_info().currsize, tables._dictionary.cache_info().currsize)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["0", "0"]


def test_load_refuses_an_unknown_table():
    with pytest.raises(UnknownNameError, match=r"table 'walls' is not recognized.* sources"):
        tables.load("walls")


def test_column_refuses_a_value_outside_the_dictionary():
    column = next(c for c in tables.columns("pipe_od") if c.name == "od_mm")
    assert column.parse("60.325") == 60.325
    with pytest.raises(OutsideStandardError, match=r"od_mm is 9000, .*\(9 to 2600"):
        column.parse("9000")
    with pytest.raises(OutsideStandardError, match=r"od_mm is nan, .*\(9 to 2600"):
        column.parse("nan")
    with pytest.raises(EstimatorError, match="od_mm must not be blank"):
        column.parse("")


def test_number_refuses_a_blank_or_a_text():
    row = tables.find_row("pipe_od", "od_system", "ISO")
    with pytest.raises(EstimatorError, match="od_in must be a number, got None"):
        tables.number(row, "od_in")
    with pytest.raises(EstimatorError, match="nominal_size must be a number, got '16'"):
        tables.number(row, "nominal_size")


def test_find_row_lists_what_there_is():
    with pytest.raises(UnknownNameError, match=r"material 'PVC' is not recognized.* PE4710"):
        tables.find_row("densities", "material", "PVC")


BEAD = ("f2620_bead", ("od_from_in", "od_to_in"))


@pytest.mark.parametrize(
    ("value", "upper"), [(0.0, 2.37), (2.37, 2.37), (2.375, 3.5), (3.5, 3.5), (65.0, 65.0)]
)
def test_band_includes_its_upper_end(value, upper):
    assert tables.band(*BEAD, value, "od [in]")["od_to_in"] == upper


@pytest.mark.parametrize("value", [-0.1, 65.1, math.nan, math.inf])
def test_band_refuses_what_the_table_does_not_cover(value):
    with pytest.raises(
        OutsideStandardError, match=r"od \[in\] is .*, .*\(0 to 65; ASTM F2620 .*f2620_bead"
    ):
        tables.band(*BEAD, value, "od [in]")


def test_band_without_upper_end_is_open_upwards_only():
    keys = ("wall_from_in", "wall_to_in")
    assert tables.band("f2620_removal", keys, 9.0, "wall [in]", place="shop")["removal_s"] == 60
    with pytest.raises(OutsideStandardError, match=r"wall \[in\] is .*\(0.17 or more"):
        tables.band("f2620_removal", keys, 0.16, "wall [in]", place="shop")


@pytest.mark.parametrize("value", [4.99, 50.01, math.nan])
def test_require_within_refuses_a_value_outside_its_limits(value):
    with pytest.raises(OutsideStandardError, match=r"dimension ratio is .*\(5 to 50;"):
        tables.require_within("dimension ratio", value)


@pytest.mark.parametrize("value", [5.0, 50.0, 50.0 + 1e-12])
def test_require_within_accepts_the_limits_themselves(value):
    tables.require_within("dimension ratio", value)


def test_require_within_refuses_nan_where_one_side_is_open():
    with pytest.raises(OutsideStandardError, match=r"wall thickness \[mm\] is .*\(1 or more"):
        tables.require_within("wall thickness", math.nan)


def test_remarks_on_a_source_are_sentences():
    row = {"source": "astm_f714", "clause": "walls", "confidence": "", "note": "Seen in print"}
    text = cite("minimum wall", row, "average wall").text
    assert text.endswith(": walls. Seen in print. Average wall")
