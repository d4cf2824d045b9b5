"""Calculations that explain themselves: a step runs once for its number, once more to be shown.

In: small typed functions of the stages, marked with ``@step``.
Out: while somebody records, the tree of each calculation; text and live formula are readings of it.
May not know: any rule of the trade, workbooks, or how a page looks.
"""
