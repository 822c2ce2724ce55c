"""Everything read from outside: text tables, patterns, surveys, drawings, TOML with its places."""
