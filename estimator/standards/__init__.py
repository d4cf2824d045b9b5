"""Published tables: one CSV each, every row with its source, clause and confidence."""
