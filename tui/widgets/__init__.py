"""The widgets of the screens. No widget calculates anything about a lathe."""
