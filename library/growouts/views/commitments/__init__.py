"""The pages of offers and promises."""
