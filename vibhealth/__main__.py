"""Run the command line with ``python -m vibhealth``."""

from vibhealth.cli import main

if __name__ == "__main__":
    main()
