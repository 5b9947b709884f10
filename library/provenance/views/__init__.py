"""The pages of a chain."""
