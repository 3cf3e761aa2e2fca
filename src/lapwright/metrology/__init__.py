"""Arrays in, numbers out: thickness, bond line, shape, roughness, uncertainty. No file, clock, log or global state."""
