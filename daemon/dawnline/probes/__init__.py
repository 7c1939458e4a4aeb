"""From bytes to samples: dialects know a device's bytes, links only move them."""
