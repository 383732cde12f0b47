"""Constants of the confidence: written by `python -m benchmarks.fit_confidence`.

Fitted to 838 answers, 640 of them right, on made floors of 35
families with seeds 200 to 223; measured on others.
"""

import numpy as np

MEAN = np.array(
    [
        0.6903,  # forward
        0.6575,  # inner
        0.1457,  # missing
        0.1153,  # contradicted
        0.6912,  # excess
        0.8045,  # captured
        0.8340,  # backward
        0.4668,  # rival
        0.6407,  # weak_rooms
        0.7735,  # agreeing
        2.1382,  # rooms
        0.9870,  # shown
    ]
)
SPREAD = np.array(
    [
        0.2424,  # forward
        0.2732,  # inner
        0.2258,  # missing
        0.1622,  # contradicted
        0.2180,  # excess
        0.2247,  # captured
        0.2010,  # backward
        0.1779,  # rival
        0.2856,  # weak_rooms
        0.3434,  # agreeing
        0.8087,  # rooms
        0.0596,  # shown
    ]
)
WEIGHT = np.array(
    [
        0.2942,  # forward
        0.3792,  # inner
        -0.6284,  # missing
        -0.1011,  # contradicted
        2.4284,  # excess
        0.8373,  # captured
        0.0000,  # backward
        -0.3620,  # rival
        0.1810,  # weak_rooms
        0.0000,  # agreeing
        0.7902,  # rooms
        0.1340,  # shown
    ]
)
BIAS = 3.5063
