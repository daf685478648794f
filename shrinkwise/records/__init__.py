"""Logs -> checked tables, a problems table and the stock ledger."""
