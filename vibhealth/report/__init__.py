"""Layer report."""
