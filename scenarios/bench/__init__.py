"""What can be worked out on the bench, without a flight: a module a bench."""
