"""Layer signal."""
