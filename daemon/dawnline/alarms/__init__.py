"""Alarms: their states, their timing, and what a person should do. Knows findings, acts and the time given."""
