"""What a keeper may write to note something: ``last in 20:14``, ``2 out``, ``battery 11.9 V``."""
