"""Second look at a finished estimate.

In: the job and everything worked out for it.
Out: warnings, each with the cell of its input.
May not know: how to change the estimate.
"""
