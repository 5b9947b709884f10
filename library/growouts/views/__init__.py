"""The pages of grow-outs."""
