"""Who is told, when and why. Decided in the fold, so that a replay tells the same people the same things."""
