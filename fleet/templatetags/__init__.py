"""Template tags of the house."""
