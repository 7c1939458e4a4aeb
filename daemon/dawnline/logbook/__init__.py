"""What the keeper did and measured by hand, and what follows from it for the watch."""
