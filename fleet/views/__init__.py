"""The register's pages."""
