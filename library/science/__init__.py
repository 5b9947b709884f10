"""Pure functions over numbers: no framework, no database, no clock.

Every public function says in its docstring what units it takes, which ranges, what it raises
and where the rule comes from. Out-of-range input raises ``ValueError`` with a sentence a member
can act on.
"""
