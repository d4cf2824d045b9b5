"""What happened on site, and what follows from it.

In: a baseline (the job as awarded) and what was made, rejected, paid and lost since.
Out: earned value, learned pace, what is left and when it ends.
May not know: spreadsheets and files.
"""
