"""A season's plan: what it is made from, how it is worked out, and what it says."""
