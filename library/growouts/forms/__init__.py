"""The forms of grow-outs."""
