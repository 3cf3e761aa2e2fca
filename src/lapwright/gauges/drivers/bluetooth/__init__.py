"""A gauge that notifies over Bluetooth LE."""
