"""From the kitchen back: what a household eats and preserves, and what must grow for it."""
