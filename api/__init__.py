"""REST over the register and onboarding. No models and no writes of its own."""
