"""The Options sheet of a small job is one page, its chart with five labels on the money axis."""

from estimator.workbook.results.options_sheet import MOVED, STATE_ROW
from estimator.workbook.sheet import look
from estimator.workbook.sheet.page_breaks import printed_pages
from estimator.workbook.sheet.text_width import text_pixels
from tests.jobs import job, run
from tests.laid_out import sheets_of


def test_the_options_of_one_run_and_their_chart_share_a_page():
    spec = sheets_of(job(run("R1", segments_m=(120.0,)), risk_trials=0))["Options"]
    assert printed_pages(spec) == 1
    (chart,) = spec.charts
    assert chart.value_step is not None
    assert chart.most_dates <= 5
    (merge,) = (one for one in spec.merges if one.startswith(f"B{STATE_ROW}:"))
    assert merge.endswith(f"E{STATE_ROW}")
    room = sum(map(look.pixels_of, spec.widths[1:5]))
    assert text_pixels(MOVED, look.TEXT, bold=True) + 5 < room
