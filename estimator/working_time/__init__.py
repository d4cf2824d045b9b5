"""Working time: which dates are worked, and how long.

In: the calendar, weather and shift inputs of the job.
Out: working days, and the shifts of each date with their paid hours and working minutes.
May not know: pipe, crews, machines or money.
"""
