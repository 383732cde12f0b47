"""The engine: pure functions over arrays, a file a stage.

No file is opened here and no geometry object of another library comes in: arrays in, arrays out.
Data passes walls, rasterise, edges, segment, contours and search (first poses), score and refine
(candidates puts these together), then refine again at full size, judge and precision. Poses are
(2, 3) or (C, 2, 3) matrices from the outlines' own frame (`walls.Walls`: device coordinates centred
and scaled to about 1) to picture pixels, (0, 0) at the outer corner of the first pixel.
"""
