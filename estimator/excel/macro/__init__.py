"""What the buttons need of an open workbook.

In: the open workbook, and descriptions of result sheets.
Out: raw input cells, and the sheets written into it.
May not know: what any input or result means.
"""
