"""Rating life, trends and replacement: whether to rebuild early, and in which window."""
