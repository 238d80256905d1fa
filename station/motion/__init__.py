"""Samples to vertical velocity to repetitions and jumps. Pure numpy and scipy: no I/O, no Qt, no clock reads."""
