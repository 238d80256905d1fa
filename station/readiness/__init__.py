"""Usual range, today against it, and the load suggestion: pure statistics over plain data."""
