"""Fuzzing of what is read from strangers: targets, first inputs, inputs that were kept."""
