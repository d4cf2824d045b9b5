"""The data dictionary of every input: its sheet, header, kind, range, default and note.

In: three tables beside the code.
Out: the fields of each input table, for reader, rules, template, docs and explanations.
May not know: how a workbook is read, or what an estimate does with an input.
"""
