"""What is at home: reports of the door, the watch, and alarms."""
