"""Template tags of onboarding."""
