"""Pure functions over numbers: no framework, no database, no clock."""
