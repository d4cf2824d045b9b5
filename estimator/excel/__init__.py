"""Excel through xlwings: the cell functions and the macro.

In: a press of a button, or the arguments of a cell function.
Out: result sheets in the open workbook, or the value of the cell.
May not know: formulas of its own; it is the only place that knows xlwings.
"""
