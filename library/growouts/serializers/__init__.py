"""What the API shows and takes of grow-outs."""
