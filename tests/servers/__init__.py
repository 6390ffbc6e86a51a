"""Throwaway servers for tests: each on a free loopback port, in a folder of its own, stopped by its process id."""
