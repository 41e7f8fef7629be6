"""Commands, one file each, thin."""


def main() -> None:
    """Run the command line."""
