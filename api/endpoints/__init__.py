"""One module per resource: each method parses, makes one call, and translates the result."""
