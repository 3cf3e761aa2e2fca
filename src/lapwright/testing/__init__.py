"""What the tests share; never imported at run time."""
