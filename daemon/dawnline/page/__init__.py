"""The page on the local network: its own process beside the service, reads the store, asks through the inbox."""
