"""What inputs must be, alone and together: every rule once, whatever the door.

In: the inputs of a workbook as read, faulty ones left out, or a job from Python, a scenario or an
option; both through ``entries.py``.
Out: each broken rule with its entry and its message.
May not know: workbooks and cells; the reader adds the cell.
"""
