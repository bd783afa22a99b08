"""What can be worked out in the workshop, with a flight or without: a module a bench."""
