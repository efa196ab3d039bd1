"""What values of keys are: web addresses, measures, what a place gives as examples."""
