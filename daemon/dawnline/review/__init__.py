"""Looking back: the days and the alarms, in figures and in words."""
