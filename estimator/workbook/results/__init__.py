"""One description of every result sheet.

In: an estimate and the cells of its inputs.
Out: what is in which cell and how it looks, for whichever renderer writes it.
May not know: how a sheet is written, or anything of xlwings.
"""
