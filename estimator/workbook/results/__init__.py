"""One description of every result sheet, for whichever renderer writes it."""
