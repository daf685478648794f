"""Results -> tables, charts and files."""
