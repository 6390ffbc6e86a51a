"""Mail itself: addresses, composition, transports, replies, pace, and the reading of reports. No database."""
