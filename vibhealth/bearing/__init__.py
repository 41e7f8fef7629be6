"""Layer bearing."""
