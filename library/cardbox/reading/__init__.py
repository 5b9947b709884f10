"""A file that somebody sent, read as a table of plain text and nothing else."""

from library.cardbox.reading.safety import MOST_BYTES, Form, NotATable, form_of
from library.cardbox.reading.table import Table, look_over, open_table

__all__ = ["MOST_BYTES", "Form", "NotATable", "Table", "form_of", "look_over", "open_table"]
