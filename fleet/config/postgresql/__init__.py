"""Django's PostgreSQL, whose connections keep the plans of as many statements as the house has: see ``database``."""
