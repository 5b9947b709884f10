"""A season to look at: on a calendar, on a plan of gardens, and as a story."""
