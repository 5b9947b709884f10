"""The album: photos of plants, seed and old cards, on varieties, lots and season notes."""
