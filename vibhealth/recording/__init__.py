"""Layer recording."""
