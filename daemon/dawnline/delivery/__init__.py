"""From a notice to a person: the outbox worker, its addresses, and the pond's state on MQTT."""
