"""What makes a plain function a cell function.

In: cells or whole columns as Excel hands them over.
Out: typed arguments, values or messages, and the help of each function.
May not know: the functions themselves.
"""
