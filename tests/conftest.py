"""Settings that must be in force before numpy is loaded."""

import os

# Linear algebra threads of several test processes wait for each other on a small machine.
for _name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
