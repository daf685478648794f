"""`store.toml` -> frozen, checked settings."""
