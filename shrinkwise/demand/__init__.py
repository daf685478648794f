"""Checked tables -> demand model -> paths of daily demand."""
