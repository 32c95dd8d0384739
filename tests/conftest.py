"""What all tests share: arrays are small, so one thread of the linear algebra library, as the command line has it."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # on arrays this small more only wait
os.environ.setdefault("OMP_NUM_THREADS", "1")
