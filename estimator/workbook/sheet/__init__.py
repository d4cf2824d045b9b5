"""What a sheet is made of, for readers and writers alike.

In: addresses, names, values and looks.
Out: areas, raw cells, descriptions of sheets, styles.
May not know: the job, the estimate, or how a file is packed.
"""
