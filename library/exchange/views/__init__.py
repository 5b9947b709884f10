"""The pages of what is carried away and brought in."""
