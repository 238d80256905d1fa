"""Sensor profiles that come with the program: one TOML file for each kind of sensor."""
