"""The text-mode screens of halfnut and its command line."""
