"""The running service: the clock, the core loop and the wiring. Knows everything, decides nothing of ponds."""
