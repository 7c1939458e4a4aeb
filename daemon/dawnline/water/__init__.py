"""The chemistry of pond water: carbonate equilibrium, minerals, units. One published model a function."""
