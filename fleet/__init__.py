"""The register: companies, members, sites, devices, labels, placements and search."""
