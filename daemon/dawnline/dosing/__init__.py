"""Plans for the keeper: what may be put into the water, how much of it, over how many days. Nothing here acts."""
