"""The demo: Telhado Claro, an invented installer in Portugal, and its whole job shown over HTTP."""
