"""Constants of the confidence: written by `python -m benchmarks.fit_confidence`.

Fitted to 202 answers, 133 of them right, on made floors of 35
families with seeds 200 to 204; measured on others.
"""

import numpy as np

MEAN = np.array(
    [
        0.6288,  # forward
        0.6004,  # inner
        0.1933,  # missing
        0.1397,  # contradicted
        0.6397,  # excess
        0.7531,  # captured
        0.8154,  # backward
        0.5374,  # rival
        0.5709,  # weak_rooms
        0.6877,  # agreeing
        2.0267,  # rooms
        0.9792,  # shown
    ]
)
SPREAD = np.array(
    [
        0.2636,  # forward
        0.2938,  # inner
        0.2654,  # missing
        0.1697,  # contradicted
        0.2399,  # excess
        0.2403,  # captured
        0.1997,  # backward
        0.2290,  # rival
        0.3071,  # weak_rooms
        0.3865,  # agreeing
        0.7413,  # rooms
        0.0739,  # shown
    ]
)
WEIGHT = np.array(
    [
        0.3153,  # forward
        0.2891,  # inner
        -1.1505,  # missing
        -0.5419,  # contradicted
        2.4580,  # excess
        1.4048,  # captured
        -0.5748,  # backward
        -0.7684,  # rival
        0.3762,  # weak_rooms
        -0.2967,  # agreeing
        0.6297,  # rooms
        0.1205,  # shown
    ]
)
BIAS = 2.3041
