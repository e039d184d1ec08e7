"""What stands on paper, exact: facts, rows of bars, tables, questions with their answers. No shape, no file."""
