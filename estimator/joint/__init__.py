"""One joint and one run: measures, count, times, fusion figures, machine.

In: the pipe and method of a run, the machine classes, the weather.
Out: a sized run: geometry, joints, cycle, fusion parameters, the class that can make it.
May not know: which crew does it on which date, rent, or money.
"""
