"""What the readings mean: the pond's day, its swing, a sudden drop, silence. Facts with evidence, no opinions."""
