"""Commands: thin, one file per family."""
