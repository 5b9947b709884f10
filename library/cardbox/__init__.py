"""The card box: tables that somebody kept elsewhere, brought in row by row."""
