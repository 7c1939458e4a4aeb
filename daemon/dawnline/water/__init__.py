"""The chemistry of pond water: carbonate equilibrium and alkalinity. One published model a function."""
