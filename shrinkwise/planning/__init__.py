"""Options of a line, search over them, and the bake plan."""
