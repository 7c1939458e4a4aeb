"""May this reading be believed? One check a file; each judges one series and says so, or says it cannot."""
