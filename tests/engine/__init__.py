"""Tests of the engine, a file a stage."""
