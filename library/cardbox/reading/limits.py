"""How much of a table is taken. Read by the worker process too: nothing else is imported."""

MOST_ROWS = 60_000
MOST_COLUMNS = 100
LONGEST_CELL = 10_000
MOST_TEXT = 120_000_000  # characters of a whole table
