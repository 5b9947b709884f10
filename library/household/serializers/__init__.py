"""The shapes of a household's plans."""
