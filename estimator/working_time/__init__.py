"""Working time: which dates are worked, and how long.

In: the calendar, weather, shifts, crew dates and holds of the job.
Out: working days, the shifts of each date with their paid hours and working minutes, and when
each crew is on site and each run may be worked on.
May not know: pipe, machine classes or money.
"""
