"""How pH instruments really fail: each failure turns what a healthy instrument would show into what this one does."""
