"""The register's business acts: one function each."""
