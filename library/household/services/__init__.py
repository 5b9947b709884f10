"""The verbs of a household's plans."""
