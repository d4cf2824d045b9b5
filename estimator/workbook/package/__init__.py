"""The workbook file as a package of XML parts.

In: the bytes of a workbook, and descriptions of sheets.
Out: its parts, and the bytes with our sheets in and the rest untouched.
May not know: what any input or result means.
"""
