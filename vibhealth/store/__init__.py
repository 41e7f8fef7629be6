"""The history: one append-only file of what was recorded, decided, rebuilt and found."""
