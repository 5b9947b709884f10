"""A household's plans over the API."""
