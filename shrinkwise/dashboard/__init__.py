"""The dashboard: pages that show what the rooms above it computed."""
