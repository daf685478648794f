"""Tonight: what to pull and pan up for tomorrow."""
