"""What a grower is told, the days of a grow-out in their garden, and the words for both."""
