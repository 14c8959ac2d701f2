"""What is printed: the card as a page, figures in words, the log as text."""
