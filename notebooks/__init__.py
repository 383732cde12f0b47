"""Four short notebooks, executed by the tests. `python -m notebooks` runs and stores them anew.

1-from-log-to-area      ten minutes: a screenshot and a log in, an area in the robot's mm out
2-reading-a-proof       confidence, other answers, predicted error, refusals
3-embedding             threads, an event loop, giving up, batches, a cluster
4-what-the-engine-sees  stage by stage, with pictures
"""
