"""The estimate for other programs and for the screen.

In: an estimate, or parts of one.
Out: plain data for JSON, and the few lines that the command prints.
May not know: workbooks, files, how an estimate is made.
"""
