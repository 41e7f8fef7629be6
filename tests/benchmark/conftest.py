"""Makes the campaigns importable from the root of the project, as their command does."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
