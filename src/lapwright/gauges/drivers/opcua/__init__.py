"""A gauge behind an OPC UA server."""
