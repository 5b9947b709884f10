"""What the API tells of a chain."""
