"""Everything the library knows of its seed, or one member's part of it, as plain tables."""
