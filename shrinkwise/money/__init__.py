"""Flows and profile -> weekly result and loss; retail ratios, each named with its base."""
