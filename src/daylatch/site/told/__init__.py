"""What is said of a site file that was read: what it asks for, and what in it contradicts."""
