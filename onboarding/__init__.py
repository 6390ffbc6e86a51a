"""Owners, the consent ledger, invitations, deliveries, mail and the owner's own pages."""
