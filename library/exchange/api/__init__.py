"""Chains in open formats over the API."""
