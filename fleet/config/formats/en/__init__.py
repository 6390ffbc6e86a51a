"""English, as it is written in Britain."""
