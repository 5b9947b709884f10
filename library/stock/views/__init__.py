"""The pages of the stock."""
