"""What the commands under People do."""
