"""The register's reads: each starts from what the acting member may see."""
