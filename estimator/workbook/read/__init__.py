"""Input sheets into a checked job.

In: raw tables and named cells, from a file or from an open workbook.
Out: a job in SI with the cell of each input, or every problem at once.
May not know: any result.
"""
