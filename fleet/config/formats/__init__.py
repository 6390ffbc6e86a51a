"""How dates and times are written where Django's own habit does not suit."""
