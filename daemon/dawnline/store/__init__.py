"""The store: all SQL of the service, one SQLite file a pond, one writer and any number of readers."""
