"""The pages of plans and pins."""
