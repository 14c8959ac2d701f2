"""The text-mode screens and the command line of halfnut."""
