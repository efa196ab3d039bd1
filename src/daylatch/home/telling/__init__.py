"""How people are told: services of messages, a topic for a buzzer, and a sign of life."""
