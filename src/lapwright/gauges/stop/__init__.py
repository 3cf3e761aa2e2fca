"""Permission to run, told again and again. Not a safety function: the machine's own interlocks stay in charge."""
