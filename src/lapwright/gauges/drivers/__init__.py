"""One folder for each kind of source: manifest.toml, driver.py, simulator.py, README.md."""
