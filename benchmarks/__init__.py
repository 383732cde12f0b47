"""Measures regmap on made floors whose truth is known: `python -m benchmarks --help`.

One file a suite. `samples` runs the pictures, `scores` holds the statistics, `report` prints and
stores, `pipelines` holds what people assemble from general libraries for the same job.
"""

import os

# One thread a process, so that times compare and bits repeat. BLAS reads these when numpy loads;
# worker processes inherit them.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
