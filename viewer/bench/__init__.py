"""What the benches print, a module a bench."""
