"""Layer card."""
