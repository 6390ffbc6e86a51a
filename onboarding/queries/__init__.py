"""The reads of onboarding."""
