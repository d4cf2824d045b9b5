"""The charts of the Status sheet, and the tables that they show."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from estimator.progress.forecast import Forecast
from estimator.progress.standing import Standing
from estimator.steps.cells import row_formula
from estimator.steps.plain import difference
from estimator.workbook.results.builder import Scalar, SheetBuilder
from estimator.workbook.results.result_columns import result_columns
from estimator.workbook.sheet import look
from estimator.workbook.sheet.source import column_letters
from estimator.workbook.sheet.spec import ChartSpec

WIDTHS = (15.0, *[8.75] * 8)
"""Of the columns of Status; they fill an upright page."""
CHART_ROWS = 15
MIDDLE = "Forecast P50"
MEAN_OF = 5
"""Days of the moving mean of joints a day."""
LESS = row_formula(difference.worked(1.0, 1.0))

Row = tuple[Mapping[str, Scalar], Mapping[str, str | None]]
"""Values of a row by column, and its formulas."""


class Charts:
    """The tables under the charts, and the charts over them."""

    def __init__(self, sheet: SheetBuilder, standing: Standing, curve_rows: int) -> None:
        self.sheet, self.standing, self.curve_rows = sheet, standing, curve_rows

    def charts(self, s_curve_row: int, charts_row: int) -> Sequence[ChartSpec]:
        """Append the tables; return the charts, the first at one row and the others at another."""
        self.sheet.section("What the charts show", len(WIDTHS))
        found, forecast = (
            [self._s_curve(s_curve_row), self._joints(charts_row)],
            self.standing.forecast,
        )
        if forecast is not None and forecast.days:
            found.append(self._pace(charts_row, forecast))
        if self.standing.status.lost:
            found.append(self._lost(charts_row + CHART_ROWS))
        return found

    def _table(self, name: str, rows: Iterable[Row]) -> Mapping[str, str]:
        """Append a table that a chart shows; return the range of each column by its key."""
        columns = result_columns(name)
        first = self.sheet.table_head(columns) + 1
        for values, formulas in rows:
            self.sheet.table_row(columns, values, formulas)
        last = self.sheet.last_row
        self.sheet.add()
        return {
            column.key: f"{self.sheet.reference(n, first)}:{self.sheet.address(n, last)}"
            for n, column in enumerate(columns, 1)
        }

    def _place(self, row: int, left: int, right: int, rows: int = CHART_ROWS) -> tuple[str, str]:
        return f"{column_letters(left)}{row}", f"{column_letters(right)}{row + rows}"

    def _s_curve(self, row: int) -> ChartSpec:
        at = self._table("status_curve", self._curve_rows())
        series = [
            ("Planned", at["planned"], look.LINE_MUTED),
            ("Earned", at["earned"], look.INK),
            ("Actual", at["actual"], look.OCHRE),
        ]
        spread: tuple[tuple[str, str, str], ...] = ()
        if self.standing.forecast is not None:
            series.append((MIDDLE, at["middle"], look.INK))
            spread = (
                ("Forecast P90", at["late"], ""),
                ("Forecast P10 to P90", at["spread"], look.LINE_PALE),
            )
        return ChartSpec(
            kind="line",
            title="Labor-hours: planned, earned, actual and forecast",
            x_title="",
            y_title="",
            categories=at["date"],
            series=tuple(series),
            anchor=self._place(row, 1, len(WIDTHS) + 1, self.curve_rows),
            values_from=0.0,
            areas=spread,
            dashes={"Planned": "dash", MIDDLE: "sysDot"},
            marked=("Actual",),
        )

    def _curve_rows(self) -> Iterator[Row]:
        bands = {band.date: band for band in self.standing.bands}
        points = {point.date: point for point in self.standing.status.curve}
        budget = self.standing.status.hours.budget
        for date in sorted({*bands, *points}):
            point, band, row = points.get(date), bands.get(date), self.sheet.next_row
            values: dict[str, Scalar] = {
                "date": date,
                "planned": point.planned if point else budget,
                "earned": point.earned if point else None,
                "actual": point.actual if point else None,
            }
            if band is None:
                yield values, {}
                continue
            values |= {"late": band.late, "middle": band.middle, "early": band.early}
            values["spread"] = difference(band.early, band.late)
            yield values, {"spread": LESS.format(one=f"H{row}", other=f"B{row}")}

    def _joints(self, row: int) -> ChartSpec:
        at = self._table("status_joints", self._joint_rows())
        return ChartSpec(
            kind="line",
            title="Joints per day, planned and made",
            x_title="",
            y_title="Joints a day",
            categories=at["date"],
            series=(
                ("Planned", at["planned"], look.LINE_MUTED),
                ("Made", at["made"], look.LINE_PALE),
                (f"Average of {MEAN_OF} days made", at["mean"], look.OCHRE),
            ),
            anchor=self._place(row, 1, 5),
            values_from=0.0,
            dashes={"Planned": "dash"},
        )

    def _joint_rows(self) -> Iterator[Row]:
        days, first = self.standing.status.joints_by_day, self.sheet.next_row
        for number, day in enumerate(days):
            last = [one.made for one in days[max(0, number - MEAN_OF + 1) : number + 1]]
            line = self.sheet.next_row
            begin = max(first, line - MEAN_OF + 1)
            values: dict[str, Scalar] = {
                "date": day.date,
                "planned": day.planned,
                "made": day.made,
                "mean": sum(last) / len(last),
            }
            yield values, {"mean": f"AVERAGE(C{begin}:C{line})"}

    def _pace(self, row: int, forecast: Forecast) -> ChartSpec:
        at = self._table("status_pace", self._pace_rows(forecast))
        return ChartSpec(
            kind="points",
            title="Pace by day, with the band learned for its size",
            x_title="",
            y_title="Actual over planned crew-paced time",
            categories=at["date"],
            series=(
                ("Day", at["factor"], look.OCHRE),
                ("P10", at["low"], look.LINE_PALE),
                ("Learned", at["learned"], look.INK),
                ("P90", at["high"], look.LINE_PALE),
            ),
            anchor=self._place(row, 5, len(WIDTHS) + 1),
            values_from=0.0,
        )

    def _pace_rows(self, forecast: Forecast) -> Iterator[Row]:
        for day in forecast.days:
            low, learned, high = forecast.bands[day.size]
            yield {
                "date": day.date, "crew": day.crew, "size": day.size, "joints": day.joints,
                "factor": day.factor, "low": low, "learned": learned, "high": high,
            }, {}  # fmt: skip

    def _lost(self, row: int) -> ChartSpec:
        lost: Iterable[Row] = (
            ({"cause": one.cause, "hours": one.crew_hours, "charge_to": one.charge_to}, {})
            for one in self.standing.status.lost
        )
        at = self._table("status_lost", lost)
        return ChartSpec(
            kind="bar",
            title="Lost time by cause",
            x_title="",
            y_title="Crew-hours",
            categories=at["cause"],
            series=(("Crew-hours", at["hours"], look.OCHRE),),
            anchor=self._place(row, 1, 5),
            values_from=0.0,
        )
