"""Layer simulate."""
