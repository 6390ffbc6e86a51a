"""The acts of onboarding: one function each."""
