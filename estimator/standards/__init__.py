"""Published tables: one CSV each.

In: a name and a place in a table.
Out: the row or figure, with its source, clause and confidence; outside the range an error.
May not know: the job, or what a figure is used for.
"""
