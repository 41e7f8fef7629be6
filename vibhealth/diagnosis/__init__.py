"""Layer diagnosis."""
