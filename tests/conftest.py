"""One thread for linear algebra in every test process, as in the checks: two tests at a time fill two cores.

Threads that wait for each other burn more than they save: the suites of simulated flights take twice the processor
time with them.
"""

from __future__ import annotations

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")  # before numpy is imported
