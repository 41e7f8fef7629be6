"""Layer acceptance."""
