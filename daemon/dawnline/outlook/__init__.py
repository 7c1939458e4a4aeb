"""What the readings mean: the day, the present, the night to come, the buffer, a sick probe. Facts, no opinions."""
