"""Sowback knows seed: lots, packets, loans, returns, tests, and where they came from."""
