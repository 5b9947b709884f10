"""The whole library in one file, and back: the same from either database into either."""
