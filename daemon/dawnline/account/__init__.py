"""The buffer's account: what alkalinity the pond has, where it went, what a day costs, how long it lasts."""
