"""Use cases as functions. Nothing is imported here, so that a light command stays light."""
