"""Where a lot came from, and what became of it: its chain walked and measured."""
