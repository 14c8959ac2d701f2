"""The forms in which the user enters one operation. Each form plans the operation from its fields."""
