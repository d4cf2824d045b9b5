"""The Options sheet: its chart on the page of its table, dots named, the deadline a line."""

import datetime as dt
import re
from dataclasses import replace
from xml.etree import ElementTree

from estimator.models.comparison import Figures
from estimator.models.options import Option, OptionTable
from estimator.models.places import Places
from estimator.money import round_money
from estimator.study import study
from estimator.workbook.package.chart_xml import ChartWriter
from estimator.workbook.results.builder import Context, SheetBuilder
from estimator.workbook.results.dot_names import Box, Dot, Name, Plot, names_of_dots
from estimator.workbook.results.options_chart import CHART as CHART_TITLE
from estimator.workbook.results.options_chart import CHART_HEAD, LATER, LINE, add_chart, axis_of
from estimator.workbook.results.options_sheet import MOVED, STATE_ROW, options_sheet
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet import look
from estimator.workbook.sheet.cell_text import area_of
from estimator.workbook.sheet.layout import laid_out
from estimator.workbook.sheet.page_breaks import printed_pages
from estimator.workbook.sheet.text_width import text_pixels
from tests.jobs import job, run
from tests.laid_out import sheets_of

JUNE_1 = dt.date(2027, 6, 1)
CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"


def table_of(*options, deadline=None):
    """Return a table of (days after 1 June, cost, better); the first is the base."""
    made = []
    for number, (days, cost, better) in enumerate(options):
        finish = JUNE_1 + dt.timedelta(days)
        figures = Figures(9, 9, JUNE_1, finish, 9.0, 3.0, round_money(cost), round_money(cost))
        made.append(Option(number + 1, 1, 10.0, figures, is_base=number == 0, better=better))
    return OptionTable(made[0], tuple(made), deadline, 14, "$", "SI")


def context():
    return Context(study(job(run("R1"))), Places(), {"Options": "Options", "Checks": "Checks"},
                   {"cost.job": "Cost!$A$1"})  # fmt: skip


def the_sheet():
    """Return a sheet with room for a table, and the row and column of the cells of its chart."""
    sheet = SheetBuilder(context(), "Options", "Options")
    sheet.last_row = 40
    return sheet, (4, 11)


def chart_of(table):
    """Return the chart of a table, and what the cells of each series show."""
    sheet, beside = the_sheet()
    chart = add_chart(sheet, table, 9, beside)
    shown = {
        name: [
            sheet.value_at(row, area_of(cells.partition("!")[2]).left)
            for row in range(5, 1 + area_of(cells.partition("!")[2]).bottom)
        ]
        for name, cells, _ in chart.series
    }
    return chart, shown


def cells_of(spec):
    """Return the cells of the rows that have any, each with a text or number in it or None."""
    return [[*row.cells] for row in spec.rows if row.cells]


def test_the_options_of_one_run_and_their_chart_share_a_page():
    spec = sheets_of(job(run("R1", segments_m=(120.0,)), risk_trials=0))["Options"]
    assert printed_pages(spec) == 1
    (chart,) = spec.charts
    assert chart.value_step is not None
    impossible = next(cells[1].value for cells in cells_of(spec) if cells[2:] and not cells[0])
    assert impossible.split(" ")[-2:] == [
        "machines,",
        "8, 10 or 12 hours".replace(" ", "\N{NO-BREAK SPACE}"),
    ]
    (merge,) = (one for one in spec.merges if one.startswith(f"C{STATE_ROW}:"))
    assert merge.endswith(f"G{STATE_ROW}")
    room = sum(map(look.pixels_of, spec.widths[2:7]))
    assert text_pixels(MOVED, look.TEXT, bold=True) + 5 < room


def test_the_job_cost_keeps_a_digit_off_the_days_before_it():
    spec = sheets_of(job(run("R1", segments_m=(120.0,)), risk_trials=0))["Options"]
    costs = [cells[5].value for cells in cells_of(spec) if cells[0] and cells[5:] and cells[5]]
    digits = max(len(f"{cost:,.0f}") for cost in costs if isinstance(cost, float))
    column = [one.key for one in result_columns("options")].index("job_cost")
    assert look.pixels_of(spec.widths[column]) > text_pixels("0" * (digits + 2), look.TEXT)


def test_a_long_table_closes_up_to_have_its_chart_on_its_page():
    many = table_of(
        *((2 * n, 1000 + n, "1 crew x 1 machine, 10 hours" if n else "") for n in range(27))
    )
    made = context()
    estimate = replace(made.estimate, options=many)
    spec = laid_out(options_sheet(replace(made, estimate=estimate)))
    top = area_of(spec.charts[0].anchor[0]).top
    assert [row for row in spec.breaks if row < top] == []


def test_late_options_without_liquidated_damages_say_so_once():
    def notes_of(damages, late):
        base, other = table_of((0, 900, ""), (20, 700, "")).options
        other = replace(
            other,
            figures=replace(other.figures, days_late=late),
            liquidated_damages=round_money(damages),
        )
        made = context()
        table = OptionTable(base, (base, other), JUNE_1, 14, "$", "SI")
        spec = options_sheet(replace(made, estimate=replace(made.estimate, options=table)))
        texts = [str(cell.value) for cells in cells_of(spec) for cell in cells if cell]
        return [text for text in texts if "no liquidated damages are entered" in text]

    assert len(notes_of(0, 20)) == 1
    assert notes_of(500, 20) == notes_of(0, 0) == []


def test_what_is_said_keeps_hours_with_their_unit_and_dates_whole():
    plain, made = table_of((0, 900, "3 crews x 1 machine, 12 hours"), (20, 700, "")), context()
    dated = (replace(one, stock="rented to 4 May 2027 or Feb 6, 2027") for one in plain.options)
    many = replace(plain, options=tuple(dated))
    spec = options_sheet(replace(made, estimate=replace(made.estimate, options=many)))
    printed = [cell for row in spec.rows for cell in row.cells[:3] if cell]
    (said,) = (cell.value for cell in printed if "The base job" in str(cell.value))
    words = {word.replace("\N{NO-BREAK SPACE}", " ") for word in said.split(" ")}
    assert {"12 hours", "4 May 2027", "Feb 6, 2027"} <= words


def test_a_chart_without_room_for_its_remarks_goes_with_them_to_a_second_page():
    """27 options, five of them with remarks of some lines: the table is alone, in full rows."""
    plain = table_of(
        *((2 * n, 1000 - n, "1 crew x 1 machine, 10 hours" if n > 4 else "") for n in range(27))
    )
    rented = (replace(option, stock="rented from elsewhere " * 12) for option in plain.options)
    many, made = replace(plain, options=tuple(rented)), context()
    spec = laid_out(options_sheet(replace(made, estimate=replace(made.estimate, options=many))))
    top = area_of(spec.charts[0].anchor[0]).top
    assert spec.breaks == (top - CHART_HEAD - 1,)
    assert spec.rows[top - CHART_HEAD - 1].cells[0].value == CHART_TITLE
    assert {row.height for row in spec.rows[10:20]} == {look.ROW}
    assert printed_pages(spec) == 2


def test_each_dot_has_the_number_of_its_option_and_the_base_a_word():
    chart, shown = chart_of(table_of((0, 900, ""), (20, 700, ""), (40, 950, "1 crew")))
    assert shown["1 base"][:3] == [900.0, None, None]
    assert shown["2"][:3] == [None, 700.0, None]
    assert shown["3"][:3] == [None, None, 950.0]
    assert chart.mark("1 base").symbol == "diamond"
    assert {name: chart.mark(name).named for name in ("1 base", "2", "3")} == {
        "1 base": "right", "2": "right", "3": "right"
    }  # fmt: skip
    assert not chart.shows_legend
    assert chart.values_format == '"$"#,##0;-"$"#,##0;"$"0'


def test_the_deadline_is_a_line_with_a_word_and_a_far_one_a_word_alone():
    options = (0, 900, ""), (20, 700, ""), (40, 950, "")
    chart, shown = chart_of(table_of(*options, deadline=JUNE_1 + dt.timedelta(30)))
    assert shown[LINE][3:] == [chart.values_to, chart.values_from]
    above = chart.values_to - chart.value_step
    assert above < shown["Deadline 1 Jul"][3] < chart.values_to  # off the lines of the chart
    assert chart.mark(LINE).dash
    far, shown = chart_of(table_of(*options, deadline=dt.date(2028, 6, 1)))
    assert LINE not in shown
    assert far.mark(LATER).named == "left"
    assert far.days == chart.days
    none, shown = chart_of(table_of(*options))
    assert {*shown} == {"1 base", "2", "3"}
    assert none.days is not None


# 5 Aug 2027 to 1 Feb 2028 are seven months with parts of two; 7 and 14 June 2027 are Mondays.
def test_the_dates_of_the_axis_are_whole_weeks_or_months():
    months = axis_of([dt.date(2027, 8, 5), dt.date(2028, 2, 1)])
    assert months.days == (dt.date(2027, 7, 1), dt.date(2028, 3, 1))  # room for names at the left
    assert months.step == (1, "months")
    weeks = axis_of([dt.date(2027, 6, 8), dt.date(2027, 6, 10)])
    assert weeks.days == (dt.date(2027, 6, 7), dt.date(2027, 6, 14))
    assert weeks.step == (7, "days")
    long = axis_of([dt.date(2027, 1, 15), dt.date(2029, 1, 15)])
    assert long.step == (3, "months")
    assert [day.day for day in long.days] == [1, 1]


def plot_of(days, low, high):
    return Plot((JUNE_1, JUNE_1 + dt.timedelta(days)), (low, high), (400.0, 100.0))


def test_names_keep_off_dots_names_and_edges():
    plot = plot_of(100, 0.0, 100.0)
    edge = Dot("7", JUNE_1 + dt.timedelta(99), 10.0)
    assert names_of_dots(plot, [edge]) == {0: Name("7", "left")}
    x, y = plot.place(edge)
    taken = [Box(x - 20, y - 4, x - 6, y + 4)]
    assert names_of_dots(plot, [edge], taken) == {0: Name("7", "above")}
    beside = Dot("8", JUNE_1 + dt.timedelta(96), 10.0)  # 12 points to the left
    assert names_of_dots(plot, [edge, beside]) == {0: Name("7", "above"), 1: Name("8", "left")}


def test_a_name_does_not_stand_close_to_the_dot_of_another():
    """A point a day. Name 1 ends 9.5 points right of its dot, 1.5 before the next dot."""
    plot = plot_of(400, 0.0, 100.0)
    dots = [Dot(str(n), JUNE_1 + dt.timedelta(days), 50.0) for n, days in ((1, 200), (2, 214))]
    assert names_of_dots(plot, dots) == {0: Name("1", "left"), 1: Name("2", "right")}


def said(names):
    """Return the numbers that names say, those of stretches among them."""
    found = []
    for part in ", ".join(names).replace(" base", "").split(", "):
        first, _, last = part.partition(" to ")
        found += range(int(first), int(last or first) + 1)
    return sorted(found)


def test_dots_that_hide_each_other_or_have_no_room_share_a_name():
    plot, middle = plot_of(100, 0.0, 100.0), JUNE_1 + dt.timedelta(50)
    pair = [Dot("6", middle, 50.0), Dot("2 base", middle, 51.0, must_be_named=True)]
    assert names_of_dots(plot, pair) == {1: Name("2 base, 6", "right")}
    crowd = [Dot(str(n), middle, 50.0 + 4 * n) for n in range(1, 9)]
    names = names_of_dots(plot, crowd)
    boxes = [plot.box(crowd[row], one.side, one.text) for row, one in names.items()]
    assert not any(one.meets(two) for i, one in enumerate(boxes) for two in boxes[:i])
    assert len(names) < len(crowd)
    assert said(one.text for one in names.values()) == [*range(1, 9)]


# Days and thousands of the 27 options of the raw water example, as the chart has them.
def test_every_option_of_a_crowded_chart_is_named_in_it():
    thousands = {
        4: (922, 938, 977, 1131, 1159, 1217), 5: (809, 817, 821, 821, 947, 1162),
        8: (864, 965, 1012, 1181, 1269), 15: (849,), 18: (887, 1065), 50: (808,), 59: (912, 1094),
        95: (838,), 129: (976, 1170), 184: (915,),
    }  # fmt: skip
    options = [(days, 1000 * cost, "1 crew") for days, costs in thousands.items() for cost in costs]
    chart, _ = chart_of(table_of(*options))
    assert said(name for name, _, _ in chart.series if chart.mark(name).named) == [*range(1, 28)]


def test_names_of_dots_are_data_labels_with_the_name_of_their_series():
    (sheet, beside), table = the_sheet(), table_of((0, 900, ""), (20, 700, ""))
    chart = add_chart(sheet, table, 9, beside)
    root = ElementTree.fromstring(ChartWriter([sheet.spec()]).render(chart))
    series = root.findall(f".//{CHART}ser")
    assert [one.findtext(f"{CHART}tx/{CHART}v") for one in series] == ["1 base", "2"]
    for one in series:
        order = [re.sub("{.*}", "", child.tag) for child in one]
        assert order == ["idx", "order", "tx", "spPr", "marker", "dLbls", "cat", "val", "smooth"]
        shown = {
            child.tag.removeprefix(CHART): child.get("val") for child in one.find(f"{CHART}dLbls")
        }
        assert shown["showSerName"] == "1"
        assert shown["showVal"] == "0"
    assert root.find(f".//{CHART}legend") is None
    assert root.find(f".//{CHART}dateAx/{CHART}majorUnit").get("val") == "7"
