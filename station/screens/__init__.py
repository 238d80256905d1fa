"""Qt only: what athletes glance at and coaches drive."""
