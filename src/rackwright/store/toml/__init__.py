"""TOML files: read, decoded into the model, encoded again, and where in a file a problem stands."""
