"""Values typed, by hand or by a gauge that acts as a keyboard."""
