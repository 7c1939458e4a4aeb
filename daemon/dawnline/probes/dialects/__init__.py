"""From bytes to values: what a line or a payload says, or why it cannot be used. Nothing here raises."""
