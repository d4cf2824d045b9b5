"""The plan: who joins what on which day.

In: sized runs, crews, shifts and the calendar.
Out: lines of the plan, paid shifts, float of the runs, use of crews, hydrotest days.
May not know: rates, rent or price.
"""
