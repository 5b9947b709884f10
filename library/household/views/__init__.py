"""Pages of a household's plans."""
