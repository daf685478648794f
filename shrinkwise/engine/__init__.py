"""Arrays in, arrays out; knows nothing of stores."""
