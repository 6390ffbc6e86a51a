"""Management commands of onboarding."""
