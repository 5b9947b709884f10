"""The chain of a lot over the API."""
