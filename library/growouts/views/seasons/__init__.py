"""The pages of seasons, offers and own plantings."""
