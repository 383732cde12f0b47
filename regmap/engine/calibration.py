"""Constants of the confidence: written by `python -m benchmarks.fit_confidence`."""

import numpy as np

MEAN = np.zeros(10)
SPREAD = np.ones(10)
WEIGHT = np.zeros(10)
BIAS = 0.0
