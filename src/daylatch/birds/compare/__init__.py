"""What other settings would cost or gain."""
