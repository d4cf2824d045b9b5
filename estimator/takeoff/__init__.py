"""Takeoffs of others into the pipe schedule: read, understood with the user, written.

In comes a table of somebody else's making; out goes the workbook with its schedule filled in.
Every reading of a column, a word or a unit is a guess that the user confirms; what cannot be
read stops the import with the foreign cell. Knows no price and no plan.
"""
