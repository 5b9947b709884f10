"""What people do about grow-outs: each function is one transaction."""
