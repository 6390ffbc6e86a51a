"""The consent ledger's arithmetic: canonical form, chain, commitments, standing. Pure: no Django, no database."""
