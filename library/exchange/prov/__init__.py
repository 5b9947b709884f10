"""Chains as W3C PROV, in its JSON form."""
