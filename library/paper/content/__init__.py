"""What stands on each kind of paper, as plain data for the documents of ``typ/``."""
