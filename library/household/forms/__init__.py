"""Forms of a household's plans."""
