"""Chains and lots in open formats: carried away, and brought in."""
