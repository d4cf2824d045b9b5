"""The workbook: inputs read from it, result sheets put into it.

In: the bytes of a workbook file, or an estimate.
Out: a checked job with the cells of its inputs, or the bytes with new result sheets.
May not know: a running spreadsheet program.
"""
