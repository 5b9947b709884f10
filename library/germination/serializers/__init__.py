"""What the bench tells over the API, and the shape of what it takes."""
