"""Onboarding's forms: they read what was typed; the acts decide."""
