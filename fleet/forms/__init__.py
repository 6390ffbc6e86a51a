"""The register's forms: what people type, checked before an act is asked for."""
