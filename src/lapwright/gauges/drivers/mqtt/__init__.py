"""A gauge that publishes on an MQTT topic."""
