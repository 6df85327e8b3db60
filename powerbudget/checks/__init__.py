"""Circuit and safety checks, each one function, one rule, one source."""
