"""`python -m station`."""

import os

# Matrices of a dozen rows: OpenBLAS's threads only wait for one another, at twice the processor time of one alone.
# Read when numpy is imported, so it has to be said before anything else is.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from station.commands.app import app

if __name__ == "__main__":
    app(prog_name="python -m station")
