"""The owner's own pages, and what staff see of onboarding."""
