"""Books as an estimator builds them by hand.

``build``: 30 formulas a run, lookup tables, a summary, the baseline of the recalculation: what a
spreadsheet program must do anyway for so many runs. ``type_again``: all that is typed in a book of
ours, on as many sheets, the baseline of opening it.
"""

from pathlib import Path

import openpyxl
import xlsxwriter

SIZES = ((2, 2.375), (4, 4.5), (6, 6.625), (8, 8.625), (10, 10.75), (12, 12.75), (16, 16.0),
         (20, 20.0), (24, 24.0), (30, 30.0), (36, 36.0), (48, 48.0))  # fmt: skip
WALLS = ((0.0, 0.06, 0.13), (0.2, 0.09, 0.17), (0.4, 0.15, 0.25), (0.6, 0.2, 0.33),
         (1.0, 0.25, 0.42), (1.5, 0.35, 0.5), (2.0, 0.4, 0.6), (3.0, 0.56, 0.9))  # fmt: skip
CLASSES = ((0.0, "A", 95), (4.6, "B", 160), (9.1, "C", 290), (14.1, "D", 480), (28.1, "E", 1150))
WAYS = (("open cut", 1.0), ("bore", 1.05), ("pull", 1.1), ("slip", 1.15), ("bridge", 1.3))
CREWS = tuple((f"Crew {n}", 3 + n % 3, 58.0 + 3.5 * n) for n in range(1, 9))
RUN = ("Run", "Description", "Size", "DR", "Length", "Stick", "Way", "Elbows", "Tees", "Flanges",
       "Tie-ins", "Access", "Crew")  # fmt: skip
FORMULAS = (  # columns N to AQ; {r} is the row
    "INDEX(Tables!$B$2:$B$13,MATCH(C{r},Tables!$A$2:$A$13,0))", "N{r}/D{r}",
    "ROUNDUP(E{r}/F{r},0)-1", "2*H{r}+3*I{r}+J{r}", "K{r}", "P{r}+Q{r}+R{r}",
    "INDEX(Tables!$E$2:$E$9,MATCH(O{r},Tables!$D$2:$D$9,1))", "4.5*O{r}", "11*O{r}",
    "INDEX(Tables!$F$2:$F$9,MATCH(O{r},Tables!$D$2:$D$9,1))", "6+0.55*N{r}",
    "X{r}+U{r}+W{r}+V{r}", "Y{r}*L{r}", "VLOOKUP(G{r},Tables!$L$2:$M$6,2,FALSE)",
    "Z{r}*AA{r}/60", "S{r}*AB{r}", "INDEX(Tables!$I$2:$I$6,MATCH(N{r},Tables!$H$2:$H$6,1))",
    "VLOOKUP(AD{r},Tables!$I$2:$J$6,2,FALSE)", "VLOOKUP(M{r},Tables!$O$2:$Q$9,2,FALSE)",
    "VLOOKUP(M{r},Tables!$O$2:$Q$9,3,FALSE)", "AC{r}*AF{r}", "AH{r}*AG{r}",
    "ROUNDUP(AC{r}/8,1)", "AJ{r}*AE{r}", "IF(AB{r}>0,INT(8/AB{r}),0)",
    'IF(G{r}="pull",0.05,0.02)*AI{r}', "S{r}*N{r}*0.35",
    "PI()*(N{r}-O{r})*O{r}*12*0.0345*E{r}", "AI{r}+AK{r}+AM{r}+AN{r}",
    "IF(E{r}>0,AP{r}/E{r},0)",
)  # fmt: skip
SUMMED = ("S", "AC", "AI", "AP")


def build(path: Path, runs: int) -> None:
    """Write the book."""
    book = xlsxwriter.Workbook(str(path))
    sheet, tables, summary = map(book.add_worksheet, ("Schedule", "Tables", "Summary"))
    sheet.write_row(0, 0, RUN)
    for n in range(1, runs + 1):
        size, way, crew = SIZES[n % 12][0], WAYS[n % 5][0], CREWS[n % 8][0]
        values = (f"R{n:06}", f"Reach {n}", size, (11, 17, 21)[n % 3], 80.0 + n * 37 % 900, 40, way,
                  n % 3, n % 2, 2 * (n % 4 == 0), n % 3, 1.0 + n % 3 / 10, crew)  # fmt: skip
        sheet.write_row(n, 0, values)
        for column, formula in enumerate(FORMULAS, len(RUN)):
            sheet.write_formula(n, column, "=" + formula.replace("{r}", str(n + 1)))
    for column, rows in ((0, SIZES), (3, WALLS), (7, CLASSES), (11, WAYS), (14, CREWS)):
        for number, row in enumerate(rows, 1):
            tables.write_row(number, column, row)
    for number, (key, by) in enumerate(
        [(size, "C") for size, _ in SIZES] + [(crew, "M") for crew, _, _ in CREWS], 1
    ):
        summary.write(number, 0, key)
        for column, of in enumerate(SUMMED, 1):
            area = f"Schedule!${of}$2:${of}${runs + 1}"
            keys = f"Schedule!${by}$2:${by}${runs + 1}"
            summary.write_formula(number, column, f"=SUMIFS({area},{keys},$A{number + 1})")
    book.close()


def type_again(source: Path, path: Path) -> None:
    """Write a book with the sheets, texts, numbers and formulas of another, and no look at all."""
    book = xlsxwriter.Workbook(str(path), {"default_date_format": "yyyy-mm-dd"})
    for sheet in openpyxl.load_workbook(source):
        typed = book.add_worksheet(sheet.title)
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value is not None:
                    typed.write(cell.row - 1, cell.column - 1, cell.value)
    book.close()
