"""Grow-outs over the API."""
