"""Readings copied on to a central store over the v2 write protocol of InfluxDB; the store here stays the record."""
