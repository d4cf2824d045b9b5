"""The workbook: reading inputs from it, describing result sheets and writing them into it."""
