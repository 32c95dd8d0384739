"""What all tests share: arrays are small, so one thread of the linear algebra library, as the command line has it."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # on arrays this small more only wait
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ["XDG_DATA_HOME"] = os.path.join(os.path.dirname(os.path.abspath(__file__)), "no-such-folder")
"""Lest what whoever runs the tests has gathered counts: no casebook is there."""
os.environ.pop("SHIFTLORE_CASEBOOK", None)
