"""What is typed at the desk and at home; the services say what may be."""
