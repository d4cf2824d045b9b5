"""Excel through xlwings: the cell functions and the macro. The only place that knows xlwings."""
